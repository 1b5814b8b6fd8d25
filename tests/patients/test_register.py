"""A new record, and the warning before a second one is made of the same person."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from exams.patients import queries, services
from exams.patients.models import Patient
from tests.patients.make import register


def reasons(person, family, given, **said):
    """In what the likely duplicates of this typed person agree, one tuple a record."""
    said = {"birth_date": date(1950, 3, 1), **said}
    matches = queries.likely_duplicates(person, family_name=family, given_name=given, **said)
    return [match.reasons for match in matches]


def test_a_new_record_is_kept_with_its_identifiers_and_a_line_in_the_trail(measurer):
    patient = register(
        measurer, "Fenwick-Sample", "Iris", identifiers=[("Alder House", "0042")], diabetes="yes"
    )

    kept = queries.patient_for(measurer, patient.pk)
    assert (kept.full_name, kept.diabetes, kept.kidney_disease) == ("Iris Fenwick-Sample", "yes", "unknown")
    assert [(one.issuer, one.value) for one in kept.identifiers_in_use] == [("Alder House", "0042")]
    assert TrailRow.objects.get(patient_id=patient.pk).action == "patient registered"


def test_a_birth_date_still_to_come_is_refused(measurer):
    with clock.at(datetime(2026, 11, 25, 12, tzinfo=UTC)), pytest.raises(ValidationError) as refused:
        register(measurer, birth_date=date(2026, 11, 26))

    assert "26 Nov 2026 is to come" in refused.value.message_dict["birth_date"][0]


def test_somebody_born_today_by_the_clinics_clock_is_taken(measurer):
    half_past_midnight_in_london = datetime(2026, 6, 30, 23, 30, tzinfo=UTC)

    with clock.at(half_past_midnight_in_london):
        assert register(measurer, birth_date=date(2026, 7, 1)).pk


def test_an_administrator_cannot_register_anybody(administrator):
    with pytest.raises(PermissionDenied):
        register(administrator)


@pytest.mark.parametrize("typed", ["FN-0042", "fn 0042", "FN0042"])
def test_an_identifier_is_given_once_in_a_clinic_however_it_is_typed(measurer, typed):
    register(measurer, identifiers=[("Alder House", "FN 0042")])

    with pytest.raises(ValidationError) as refused:
        register(
            measurer, "Otherwise", "Una", identifiers=[("ALDER house", typed)], duplicate_reason="not her"
        )

    assert "is in a record of this clinic already" in refused.value.message_dict["identifiers"][0]
    assert Patient.objects.count() == 1


def test_the_same_identifier_in_the_other_clinic_is_neither_shown_nor_refused(measurer, outsider):
    register(measurer, identifiers=[("Health service", "0042")])

    assert reasons(outsider, "Fenwick-Sample", "Iris", identifiers=[("Health service", "0042")]) == []
    assert register(outsider, identifiers=[("Health service", "0042")]).pk


def test_a_likely_duplicate_needs_a_reason_and_nothing_is_kept_without_one(measurer):
    register(measurer, "Fenwick-Sample", "Iris")

    with pytest.raises(ValidationError) as refused:
        register(measurer, "Fenwick-Sample", "Iris", duplicate_reason="  ")

    assert list(refused.value.message_dict) == ["duplicate_reason"]
    assert Patient.objects.count() == 1


def test_the_reason_for_a_second_record_goes_to_the_trail(measurer):
    first = register(measurer, "Fenwick-Sample", "Iris")

    second = register(measurer, "Fenwick-Sample", "Iris", duplicate_reason="cousin of the same name")

    details = TrailRow.objects.get(patient_id=second.pk).details
    assert details["different_from"] == [first.pk]
    assert details["because"] == "cousin of the same name"


@pytest.mark.parametrize(
    ("family", "given_name", "said", "agreeing"),
    [
        ("FENWICK SAMPLE", "íris", {}, ("the same name", "the same birth date")),
        ("Fenwick-Sample", "Iris", {"birth_date": date(1981, 7, 9)}, ("the same name",)),
        ("Iris", "Fenwick-Sample", {}, ("the same names changed about", "the same birth date")),
        ("Fenwick-Sampel", "Iris", {}, ("a name one slip away", "the same birth date")),
        (
            "Fenwik-Sample",
            "Irish",
            {"birth_date": date(1950, 1, 3)},
            ("a name one slip away", "the same birth date with day and month changed about"),
        ),
        ("Otherwise", "Iris", {}, ("one name in common", "the same birth date")),
        (
            "Otherwise",
            "Una",
            {"birth_date": date(1981, 7, 9), "identifiers": [("Ward", "fn 42")]},
            ("the same identifier",),
        ),
        (
            "Fenwick-Sample",
            "Una",
            {"birth_date": date(1981, 7, 9), "telephone": "+44 0000 960001"},
            ("one name in common", "the same telephone"),
        ),
    ],
)
def test_what_makes_a_record_a_likely_duplicate(measurer, family, given_name, said, agreeing):
    register(
        measurer, "Fenwick-Sample", "Iris", identifiers=[("Alder House", "FN-42")], telephone="00000 960001"
    )

    assert reasons(measurer, family, given_name, **said) == [agreeing]


@pytest.mark.parametrize(
    ("family", "given_name", "said"),
    [
        ("Otherwise", "Una", {}),
        ("Fenwick-Sampel", "Iris", {"birth_date": date(1981, 7, 9)}),
        ("Fenwick-Sample", "Una", {"birth_date": date(1981, 7, 9)}),
        ("Otherwise", "Una", {"birth_date": date(1981, 7, 9), "telephone": "00000 960001"}),
    ],
)
def test_what_people_share_by_chance_is_no_duplicate(measurer, family, given_name, said):
    register(measurer, "Fenwick-Sample", "Iris", telephone="00000 960001")

    assert reasons(measurer, family, given_name, **said) == []


def test_the_likeliest_record_comes_first(measurer):
    namesake = register(measurer, "Fenwick-Sample", "Iris", birth_date=date(1981, 7, 9))
    same = register(measurer, "Fenwick-Sample", "Iris", duplicate_reason="another person")

    matches = queries.likely_duplicates(
        measurer, family_name="Fenwick-Sample", given_name="Iris", birth_date=date(1950, 3, 1)
    )

    assert [match.patient for match in matches] == [same, namesake]


def test_looking_for_duplicates_costs_two_queries(measurer, django_assert_num_queries):
    register(measurer, "Fenwick-Sample", "Iris", identifiers=[("Alder House", "FN-42")])
    register(measurer, "Fenwick-Sample", "Iris", duplicate_reason="another person")

    with django_assert_num_queries(2):
        assert len(reasons(measurer, "Fenwick-Sample", "Iris", identifiers=[("Ward", "FN-42")])) == 2


def test_another_clinics_record_is_not_found(measurer, outsider):
    patient = register(measurer)

    with pytest.raises(queries.NotHere):
        queries.patient_for(outsider, patient.pk)


def test_a_record_is_changed_with_old_and_new_value_in_the_trail(measurer):
    patient = register(measurer, telephone="00000 960001")

    changed = services.change_patient(patient=patient, revision=1, telephone="00000 960002", by=measurer)

    assert (changed.telephone, changed.revision) == ("00000 960002", 2)
    line = TrailRow.objects.filter(action="patient changed").get()
    assert line.details == {"changed": {"telephone": ["00000 960001", "00000 960002"]}}


def test_a_changed_name_is_found_and_the_old_one_is_not(measurer):
    patient = register(measurer, "Fenwick-Sample", "Iris", identifiers=[("Alder House", "FN-42")])

    services.change_patient(patient=patient, revision=1, family_name="Otherwise", by=measurer)

    assert queries.patients_matching(measurer, "otherwise fn42").patients == (patient,)
    assert queries.patients_matching(measurer, "fenwick").patients == ()


def test_a_page_overtaken_by_another_is_refused_with_the_newer_value(measurer, wound_nurse):
    patient = register(measurer, telephone="00000 960001", referrer="Dr Invented")
    services.change_patient(patient=patient, revision=1, telephone="00000 960002", by=wound_nurse)

    with pytest.raises(ValidationError) as refused:
        services.change_patient(
            patient=patient, revision=1, telephone="00000 960003", referrer="Dr Invented", by=measurer
        )

    assert list(refused.value.message_dict) == ["telephone"]
    assert "it now says “00000 960002”" in refused.value.message_dict["telephone"][0]
    patient.refresh_from_db()
    assert patient.telephone == "00000 960002"


def test_saving_nothing_new_leaves_revision_and_trail_alone(measurer):
    patient = register(measurer, telephone="00000 960001")

    services.change_patient(patient=patient, revision=1, telephone="00000 960001", by=measurer)

    patient.refresh_from_db()
    assert patient.revision == 1
    assert not TrailRow.objects.filter(action="patient changed").exists()


def test_another_clinics_record_cannot_be_changed(measurer, outsider):
    patient = register(measurer)

    with pytest.raises(queries.NotHere):
        services.change_patient(patient=patient, revision=1, telephone="1", by=outsider)


def test_a_withdrawn_identifier_stays_with_its_reason_and_may_be_given_to_its_owner(measurer):
    wrong = register(measurer, identifiers=[("Alder House", "FN-42")])
    owner = register(measurer, "Otherwise", "Una")

    services.withdraw_identifier(identifier=wrong.identifiers.get(), reason="neighbour's number", by=measurer)
    services.add_identifier(patient=owner, issuer="Alder House", value="FN-42", by=measurer)

    assert queries.withdrawn_identifiers(wrong)[0].withdrawn_because == "neighbour's number"
    assert queries.patients_matching(measurer, "fn42").patients == (owner,)
