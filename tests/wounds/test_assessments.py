"""What is found of a wound on a day, what is asked about it, and the grades kept with it."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from access import clock
from exams.patients.events import FactKind
from exams.patients.models import LimbFact
from exams.wounds.models import Assessment, Grade
from exams.wounds.services import correct_assessment, withdraw_assessment
from tests.build import whole_exam
from tests.wounds.make import assess, days_ago, wound

pytestmark = pytest.mark.django_db

INFECTED = {
    "infection_looked": "signs",
    "local_signs": "swelling warmth pus",
    "redness_mm": 15,
    "bone_infection": "no",
    "celsius": "36.8",
    "heart_rate": 72,
    "breaths": 14,
    "white_cells": "7.2",
}


def grades_of(found) -> dict[str, int | None]:
    rows = Grade.objects.filter(assessment=found)
    return {row.measure: None if row.value is None else int(row.value) for row in rows}


def infections(patient):
    standing = LimbFact.objects.filter(
        patient=patient, kind=FactKind.FOOT_INFECTION, replaced_by=None, withdrawn_at=None
    )
    return [(one.grade, one.osteomyelitis, one.ended_on) for one in standing.order_by("pk")]


def test_every_grade_follows_from_what_was_entered(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=35, at=clock.now() - timedelta(days=2))
    first = wound(wound_nurse, patient, "right:toe_1_sole")

    found = grades_of(assess(wound_nurse, first, **INFECTED))

    # W1 I2 fI1 is stage 3 in both reproductions of the table (clinical.md 3.2: M).
    assert (found["wifi_wound"], found["wifi_infection"], found["iwgdf_infection"]) == (1, 1, 2)
    assert found["wifi_stage"] == 3
    # Reduced flow, feeling lost, infected, 2.4 cm²: one point each; forefoot and subcutis none.
    assert found["sinbad"] == 4


def test_the_stage_is_computed_anew_at_each_assessment(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=62, at=clock.now() - timedelta(days=20))
    first = wound(wound_nurse, patient, began=25)
    before = assess(wound_nurse, first, ago=10)
    whole_exam(measurer, patient, right_hallux=24, at=clock.now() - timedelta(days=5))

    after = assess(wound_nurse, first, ago=1)

    assert (grades_of(before)["wifi_stage"], grades_of(after)["wifi_stage"]) == (1, 3)


def test_what_is_not_known_is_named_and_not_taken_for_no(wound_nurse, patient):
    first = wound(wound_nurse, patient)

    found = assess(wound_nurse, first, infection_looked="not_looked", bone_infection="unknown")

    row = Grade.objects.get(assessment=found, measure="iwgdf_infection")
    assert row.value is None
    assert row.graded["missing"] != []


def test_an_area_ten_times_the_last_asks_about_units(wound_nurse, patient):
    first = wound(wound_nurse, patient)
    assess(wound_nurse, first, ago=1, length_mm=12, width_mm=10)

    with pytest.raises(ValidationError) as asked:
        assess(wound_nurse, first, length_mm=120, width_mm=100)
    kept = assess(wound_nurse, first, length_mm=120, width_mm=100, size_confirmed=True)

    words = asked.value.message_dict["length_mm"][0]
    assert "1.2 cm²" in words
    assert "millimetres" in words
    assert kept.area_mm2 == 12_000


def test_signs_that_contradict_the_grade_given_by_eye_are_asked_about(wound_nurse, patient):
    first = wound(wound_nurse, patient)

    with pytest.raises(ValidationError) as asked:
        assess(wound_nurse, first, infection_judged="severe", **INFECTED)
    kept = assess(
        wound_nurse, first, infection_judged="severe", judged_because="shivering on arrival", **INFECTED
    )

    assert "mild" in asked.value.message_dict["infection_judged"][0]
    assert kept.judged_because == "shivering on arrival"


@pytest.mark.parametrize(
    ("place", "found", "field"),
    [
        ("right:heel_under", {"gangrene": "digits"}, "gangrene"),
        ("right:heel_under", {"depth": "phalanx"}, "depth"),
        ("right:toe_1_sole", {"gangrene": "heel"}, "gangrene"),
        ("right:toe_1_sole", {"width_mm": None}, "width_mm"),
    ],
)
def test_what_cannot_be_together_is_refused_at_its_field(wound_nurse, patient, place, found, field):
    first = wound(wound_nurse, patient, place)

    with pytest.raises(ValidationError) as refused:
        assess(wound_nurse, first, **found)

    assert list(refused.value.message_dict) == [field]


def test_an_assessment_outside_the_wound_is_refused(wound_nurse, patient):
    first = wound(wound_nurse, patient, began=5)

    with pytest.raises(ValidationError) as before:
        assess(wound_nurse, first, ago=6)

    assert "after" in before.value.message_dict["assessed_on"][0]


def test_a_correction_is_a_new_row_graded_anew(wound_nurse, patient):
    first = wound(wound_nurse, patient)
    found = assess(wound_nurse, first, depth="subcutis")

    again = correct_assessment(assessment=found, depth="tendon", reason="probed again", by=wound_nurse)

    found.refresh_from_db()
    assert found.depth == "subcutis"
    assert (again.replaces, again.replaced_because) == (found, "probed again")
    assert (grades_of(found)["wifi_wound"], grades_of(again)["wifi_wound"]) == (1, 2)
    assert Assessment.objects.filter(wound=first, replaced_by=None).get() == again


def test_the_foots_infection_begins_worsens_and_ends_with_what_is_found(wound_nurse, patient):
    first = wound(wound_nurse, patient, began=20)

    assess(wound_nurse, first, ago=15, **INFECTED)
    assert infections(patient) == [("mild", False, None)]

    assess(wound_nurse, first, ago=9, **{**INFECTED, "deep_signs": "abscess", "bone_infection": "yes"})
    assert infections(patient) == [("mild", False, days_ago(9)), ("moderate", True, None)]

    assess(wound_nurse, first, ago=2)
    assert infections(patient)[-1] == ("moderate", True, days_ago(2))


def test_an_infection_is_known_although_its_grade_is_not(wound_nurse, patient):
    first = wound(wound_nurse, patient)

    assess(wound_nurse, first, **{**INFECTED, "celsius": None, "heart_rate": None, "breaths": None})

    assert infections(patient) == [("", False, None)]


def test_an_infection_read_by_mistake_never_was(wound_nurse, patient):
    first = wound(wound_nurse, patient)
    found = assess(wound_nurse, first, **INFECTED)

    withdraw_assessment(assessment=found, reason="other foot", by=wound_nurse)

    assert infections(patient) == []
