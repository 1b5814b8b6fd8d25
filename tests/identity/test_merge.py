"""Two records of one person made one, and parted again to the letter."""

from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from access.models import TrailRow
from exams.identity import queries, services
from exams.identity.kept import pointing_to
from exams.identity.models import Merge
from exams.patients.models import LimbFact, Patient
from exams.patients.queries import MergedAway, likely_duplicates, patient_for, patients_matching
from exams.patients.services import add_identifier, change_patient, correct_limb_fact
from exams.visits.models import HandOver
from reports.documents.content import content_hash
from tests.build import booked_exam, exam_with, whole_exam
from tests.identity.make import everything, merge, report_of, two_records, undo
from tests.patients.make import caution, fact, register

AMPUTATION = {"kind": "amputation", "level": "toe", "toe": 1}


def test_everything_of_the_merged_record_stands_under_the_other_and_remembers_where_it_came_from(
    measurer, reporter
):
    survivor, merged = two_records(measurer)
    arm, wound, exam = caution(measurer, merged), fact(measurer, merged), booked_exam(measurer, merged)

    done = merge(survivor, merged, reporter)

    for row in (arm, wound, exam):
        row.refresh_from_db()
        assert row.patient == survivor
    came = {
        (one["table"], one["pk"])
        for one in done.changes
        if (one["before"] or {}).get("patient_id") == merged.pk
    }
    assert {
        ("patients.caution", str(arm.pk)),
        ("patients.limbfact", str(wound.pk)),
        ("visits.exam", str(exam.pk)),
    } < came
    assert queries.moved_rows(done) == {
        "followup.recall": 1, "patients.caution": 1, "patients.identifier": 1, "patients.limbfact": 1,
        "visits.exam": 1,
    }  # fmt: skip


def test_each_field_says_what_was_decided(measurer, reporter):
    survivor, merged = two_records(measurer, given_name="Irisa", telephone="01632 960777")

    done = merge(survivor, merged, reporter, telephone="merged")

    survivor.refresh_from_db()
    assert (survivor.given_name, survivor.telephone) == ("Iris", "01632 960777")
    assert done.decisions["telephone"]["kept"] == "merged"
    assert done.decisions["given_name"]["merged"] == "Irisa"


def test_nothing_is_merged_while_a_difference_is_undecided_or_no_reason_is_given(measurer, reporter):
    survivor, merged = two_records(measurer)

    with pytest.raises(ValidationError) as refused:
        services.merge_records(
            survivor=survivor, merged=merged, keep={}, because=" ", seen=(1, 1), by=reporter
        )

    assert {"given_name", "telephone", "because"} == set(refused.value.error_dict)
    assert not Merge.objects.exists()


def test_a_record_changed_meanwhile_is_looked_at_again(measurer, reporter):
    survivor, merged = two_records(measurer)
    change_patient(patient=merged, revision=1, by=measurer, tobacco="never")

    with pytest.raises(ValidationError, match="while you were deciding"):
        services.merge_records(
            survivor=survivor, merged=merged, keep={}, because="same", seen=(1, 1), by=reporter
        )


def test_two_amputations_that_exclude_each_other_are_decided(measurer, reporter):
    survivor, merged = two_records(measurer)
    ours = fact(measurer, survivor, **AMPUTATION, started_on=date(2019, 5, 1))
    theirs = fact(measurer, merged, **AMPUTATION, started_on=date(2021, 5, 1))

    merge(survivor, merged, reporter, **{f"facts:{ours.pk}:{theirs.pk}": "merged"})

    assert list(LimbFact.objects.filter(patient=survivor, withdrawn_at=None)) == [theirs]
    ours.refresh_from_db()
    assert ours.withdrawn_because.startswith("two records merged")


def test_a_birth_date_after_what_is_on_record_is_refused_at_its_field(measurer, reporter):
    survivor, merged = two_records(measurer, birth_date=date(2001, 3, 1))
    fact(measurer, survivor, started_on=date(2000, 1, 1))

    with pytest.raises(ValidationError) as refused:
        merge(survivor, merged, reporter, birth_date="merged")

    assert list(refused.value.error_dict) == ["birth_date"]
    assert Patient.objects.filter(merged_into=None).count() == 2


def test_an_ulcer_of_one_record_makes_a_low_toe_of_the_other_urgent(measurer, reporter):
    survivor, merged = two_records(measurer)
    exam = exam_with(measurer, survivor, arm_right=140, right_hallux=24)
    fact(measurer, merged, side="right")

    merge(survivor, merged, reporter)

    slips = HandOver.objects.filter(exam=exam).order_by("pk")
    assert [(slip.flag, slip.closed_at is None) for slip in slips] == [
        ("SEVERE_ISCHAEMIA", False),
        ("URGENT_VASCULAR", True),
    ]


def test_the_merged_record_is_found_no_more_and_leads_on(measurer, reporter, client_as):
    survivor, merged = two_records(measurer)
    merge(survivor, merged, reporter)

    with pytest.raises(MergedAway):
        patient_for(measurer, merged.pk)
    found = {
        typed: patients_matching(measurer, typed).patients for typed in ("iriss fenwick", "LS 7", "FN 42")
    }
    assert found == dict.fromkeys(found, (survivor,))
    likely = likely_duplicates(measurer, family_name="Fenwick-Sample", given_name="Iriss", birth_date=None)
    assert merged not in [match.patient for match in likely]
    client = client_as(measurer)
    answer = client.get(f"/patients/{merged.pk}/cautions/", follow=True)
    assert answer.redirect_chain[-1][0].endswith(f"/{survivor.pk}/")
    assert "was merged into this one" in answer.content.decode()
    assert client.post(f"/patients/{merged.pk}/change/", {}).status_code == 409


def test_a_page_opened_before_the_merge_saves_nothing_under_the_merged_record(measurer, reporter):
    survivor, merged = two_records(measurer)
    merge(survivor, merged, reporter)

    for saved in (
        lambda: booked_exam(measurer, merged),
        lambda: caution(measurer, merged),
        lambda: fact(measurer, merged),
        lambda: add_identifier(patient=merged, issuer="Alder House", value="FN 43", by=measurer),
        lambda: change_patient(patient=merged, revision=2, by=measurer, tobacco="never"),
    ):
        with pytest.raises(ValidationError, match="merged into another"):
            saved()


def test_a_report_keeps_the_name_it_was_made_under_and_says_what_was_merged_since(
    measurer, reporter, client_as
):
    survivor, merged = two_records(measurer)
    document = report_of(whole_exam(measurer, merged), reporter)
    frozen = document.content_sha256

    merge(survivor, merged, reporter)

    document.refresh_from_db()
    assert content_hash(document.content) == frozen
    page = client_as(reporter).get(f"/reports/{document.pk}/").content.decode()
    assert "Made under the name Fenwick-Sample, Iriss" in page
    assert "merged into this one after this report was made" in page


def test_a_measurer_merges_nothing(measurer):
    survivor, merged = two_records(measurer)

    with pytest.raises(PermissionDenied):
        merge(survivor, merged, measurer)


def test_the_trail_of_both_records_tells_of_merge_and_undoing(measurer, reporter):
    survivor, merged = two_records(measurer)

    undo(merge(survivor, merged, reporter), reporter)

    told = TrailRow.objects.filter(subject_type="identity.merge").order_by("pk")
    assert [(row.action, row.patient_id) for row in told] == [
        ("records merged", survivor.pk),
        ("record merged into another", merged.pk),
        ("merge undone", survivor.pk),
        ("merge undone", merged.pk),
    ]


@settings(
    max_examples=8,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    derandomize=True,
)
@given(
    details=st.fixed_dictionaries(
        {},
        optional={
            "tobacco": st.sampled_from(["never", "current"]),
            "diabetes": st.sampled_from(["yes", "no"]),
            "telephone": st.sampled_from(["01632 960333", "01632 960444"]),
            "family_name": st.sampled_from(["Fenwick Sample", "Fenwick"]),
        },
    ),
    ours=st.sets(st.sampled_from(["caution", "wound", "amputation", "exam"])),
    theirs=st.sets(st.sampled_from(["caution", "wound", "amputation", "exam"])),
    keep=st.sampled_from(["survivor", "merged"]),
)
def test_merging_and_undoing_gives_every_row_back_as_it_was(measurer, reporter, details, ours, theirs, keep):
    clean = transaction.savepoint()
    try:
        survivor, merged = two_records(measurer, **details)
        _give(measurer, survivor, ours)
        _give(measurer, merged, theirs)
        before = everything()
        done = merge(survivor, merged, reporter, keep)
        between = everything()
        undo(done, reporter)

        assert between != before
        assert everything() == before
    finally:
        transaction.savepoint_rollback(clean)


def _give(by, patient, held):
    if "exam" in held:
        exam_with(by, patient, arm_right=140, left_hallux=24)
    if "caution" in held:
        caution(by, patient)
    if "amputation" in held:
        fact(by, patient, **AMPUTATION, started_on=date(2019, 5, patient.pk % 27 + 1))
    if "wound" in held:
        fact(by, patient, side="left")


def test_what_was_recorded_after_the_merge_is_asked_and_goes_where_it_is_said(measurer, reporter):
    survivor, merged = two_records(measurer)
    done = merge(survivor, merged, reporter)
    exam = booked_exam(measurer, survivor)
    wound = fact(measurer, survivor)
    change_patient(patient=survivor, revision=2, by=measurer, address="3 Reed Lane")

    with pytest.raises(ValidationError) as refused:
        undo(done, reporter)

    asked = {f"visits.exam:{exam.pk}", f"patients.limbfact:{wound.pk}", "field:address"}
    assert set(refused.value.error_dict) == asked
    places = {
        f"visits.exam:{exam.pk}": "merged",
        f"patients.limbfact:{wound.pk}": "survivor",
        "field:address": "both",
    }
    undo(done, reporter, **places)
    for row in (survivor, merged, exam, wound):
        row.refresh_from_db()
    assert (exam.patient, wound.patient) == (merged, survivor)
    assert survivor.address == merged.address == "3 Reed Lane"
    assert merged.merged_into is None


def test_a_correction_made_after_the_merge_goes_with_what_it_corrects(measurer, reporter):
    survivor, merged = two_records(measurer)
    wound = fact(measurer, merged)
    done = merge(survivor, merged, reporter)
    wound.refresh_from_db()
    newer = correct_limb_fact(
        fact=wound, reason="other side", by=measurer, side="left", kind="open_wound",
        started_on=date(2026, 1, 5), ended_on=None, note="", source="seen",
    )  # fmt: skip

    undo(done, reporter)

    newer.refresh_from_db()
    wound.refresh_from_db()
    assert wound.patient == newer.patient == merged


def test_a_later_merge_is_undone_first(measurer, reporter):
    survivor, merged = two_records(measurer)
    third = register(measurer, given_name="Irisa", duplicate_reason="not seen")
    first = merge(survivor, merged, reporter)
    second = merge(survivor, third, reporter)

    with pytest.raises(ValidationError, match="Undo that one first"):
        undo(first, reporter)

    undo(second, reporter)
    undo(first, reporter)
    assert Patient.objects.filter(merged_into=None).count() == 3


def test_every_table_that_points_to_a_person_is_moved():
    assert [model._meta.label_lower for model, _ in pointing_to(Patient)] == [
        "followup.promise",
        "followup.recall",
        "followup.referral",
        "patients.caution",
        "patients.identifier",
        "patients.limbfact",
        "visits.exam",
        "wounds.episode",
    ]
