"""What the database itself refuses, whoever asks and by whatever way."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from access import clock
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from tests.patients.make import register

BORN = date(1950, 3, 1)


@pytest.fixture
def iris(measurer):
    return register(measurer, identifiers=[("Alder House", "FN-42")])


def refused_by(constraint):
    return pytest.raises(IntegrityError, match=constraint)


@pytest.mark.parametrize(
    ("said", "constraint"),
    [
        ({"family_name": ""}, "patient_has_a_name"),
        ({"given_name": ""}, "patient_has_a_name"),
        ({"birth_date": date(1899, 12, 31)}, "patient_born_since_1900"),
        ({"sex": ""}, "patient_answers_are_known_words"),
        ({"diabetes": "maybe"}, "patient_answers_are_known_words"),
    ],
)
def test_a_patient_has_a_name_a_possible_birth_and_known_answers(iris, said, constraint):
    with refused_by(constraint), transaction.atomic():
        Patient.objects.filter(pk=iris.pk).update(**said)


@pytest.mark.parametrize(
    ("said", "constraint"),
    [
        ({"value_key": ""}, "identifier_can_be_compared"),
        ({"withdrawn_because": "no reason without who and when"}, "identifier_withdrawn_says_who_and_why"),
    ],
)
def test_an_identifier_can_be_compared_and_its_withdrawal_is_whole(iris, said, constraint):
    with refused_by(constraint), transaction.atomic():
        Identifier.objects.filter(patient=iris).update(**said)


def test_an_identifier_stands_once_per_issuer_and_clinic(iris, measurer):
    other = register(measurer, "Otherwise", "Una")
    same = {"issuer": "Alder House", "value": "FN 42", "issuer_key": "alderhouse", "value_key": "fn42"}

    # SQLite names the columns of a broken unique constraint, PostgreSQL its name.
    with refused_by("value_key|identifier_once_per_issuer"), transaction.atomic():
        Identifier.objects.create(patient=other, clinic=other.clinic, **same)


def caution_of(patient, by, **said):
    said = {
        "side": "right",
        "region": "arm",
        "kind": "fistula",
        "do_not_inflate": True,
        "source": "x",
        **said,
    }
    return Caution(patient=patient, entered_at=clock.now(), entered_by=by.user, **said)


@pytest.mark.parametrize(
    ("said", "constraint"),
    [
        ({"side": ""}, "caution_stands_at_a_place"),
        ({"region": "person"}, "caution_stands_at_a_place"),
        ({"kind": "isolation"}, "caution_stands_at_a_place"),
        ({"side": "", "region": "person", "kind": "isolation"}, "caution_stands_at_a_place"),
        ({"source": ""}, "caution_names_its_source"),
        ({"kind": "other"}, "caution_of_another_kind_says_what"),
        ({"ended_on": BORN}, "caution_ended_says_who_and_why"),
        ({"started_on": date(2026, 1, 2), "ended_on": BORN}, "caution_end"),
    ],
)
def test_a_caution_has_a_place_a_source_and_a_whole_end(iris, measurer, said, constraint):
    with refused_by(constraint), transaction.atomic():
        caution_of(iris, measurer, **said).save()


def fact_of(patient, by, **said):
    said = {"side": "right", "kind": "open_wound", "started_on": date(2026, 1, 5), "source": "x", **said}
    return LimbFact(patient=patient, entered_at=clock.now(), entered_by=by.user, **said)


@pytest.mark.parametrize(
    ("said", "constraint"),
    [
        ({"side": ""}, "fact_is_of_a_known_kind_and_side"),
        ({"kind": "mood"}, "fact_is_of_a_known_kind_and_side"),
        ({"ended_on": BORN, "ended_reason": "healed"}, "fact_end"),
        ({"ended_on": date(2026, 1, 6)}, "fact_ended_says_who_and_why"),
        ({"toe": 1}, "fact_names_a_toe_only_where_one_was_taken_off"),
        ({"kind": "amputation", "level": "toe"}, "fact_names_a_toe_only_where_one_was_taken_off"),
        ({"kind": "amputation", "level": "ray", "toe": 6}, "fact_names_a_toe_only_where_one_was_taken_off"),
        ({"kind": "amputation"}, "fact_names_a_level_only_of_an_amputation"),
        ({"level": "midfoot"}, "fact_names_a_level_only_of_an_amputation"),
        ({"vessels": "popliteal"}, "fact_names_vessels_only_of_a_revascularisation"),
        ({"grade": "mild"}, "fact_names_a_grade_only_of_an_infection"),
        ({"started_precision": "week"}, "fact_is_dated_in_a_known_way"),
        ({"kind": "dialysis"}, "fact_is_of_a_known_kind_and_side"),
        ({"source": ""}, "fact_names_its_source"),
        ({"replaced_because": "of nothing"}, "fact_replacement_says_why"),
        ({"withdrawn_because": "of nobody"}, "fact_withdrawn_says_who_and_why"),
    ],
)
def test_a_fact_is_of_a_limb_has_a_source_and_says_why_it_changed(iris, measurer, said, constraint):
    with refused_by(constraint), transaction.atomic():
        fact_of(iris, measurer, **said).save()


def test_a_fact_is_replaced_once(iris, measurer):
    first = fact_of(iris, measurer)
    first.save()
    fact_of(iris, measurer, replaces=first, replaced_because="day").save()

    with pytest.raises(IntegrityError), transaction.atomic():
        fact_of(iris, measurer, replaces=first, replaced_because="day again").save()
