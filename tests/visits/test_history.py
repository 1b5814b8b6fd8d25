"""What the timeline and the report read: every exam with its findings, in a fixed number of queries."""

from datetime import UTC, date, datetime, timedelta

import pytest

from access import clock
from access.permissions import NotHere
from exams.hemodynamics import Side, Site
from exams.visits.history import limb_history
from exams.visits.services import correct_reading
from exams.visits.typed import read_reading
from tests.build import exam_with, new_patient, reading_at, whole_exam


def test_the_history_is_every_exam_with_its_stored_findings_the_oldest_first(measurer):
    patient = new_patient(measurer)
    newer = whole_exam(measurer, patient, at=datetime(2025, 3, 3, 10, 0, tzinfo=UTC), right_hallux=70)
    older = whole_exam(measurer, patient, at=datetime(2024, 3, 4, 10, 0, tzinfo=UTC), right_hallux=80)

    history = limb_history(measurer, patient)

    assert [record.exam_id for record in history] == [older.pk, newer.pk]
    assert [record.on for record in history] == [date(2024, 3, 4), date(2025, 3, 3)]
    assert [record.interpretation.of("toe_pressure", Side.RIGHT).shown for record in history] == [
        "80 mmHg",
        "70 mmHg",
    ]


def test_the_day_is_the_one_on_the_clinics_wall(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=datetime(2025, 6, 30, 23, 30, tzinfo=UTC))

    assert limb_history(measurer, patient)[0].on == date(2025, 7, 1)


def test_one_exam_and_ten_cost_the_same_number_of_queries(measurer, django_assert_num_queries):
    patient = new_patient(measurer)
    now = clock.now()
    whole_exam(measurer, patient, at=now - timedelta(days=900))
    with django_assert_num_queries(6):
        limb_history(measurer, patient)

    for months in range(1, 10):
        whole_exam(measurer, patient, at=now - timedelta(days=30 * months))
    with django_assert_num_queries(6):
        assert len(limb_history(measurer, patient)) == 10


def test_a_limb_says_which_toe_was_measured_and_how(measurer):
    exam = exam_with(
        measurer,
        conditions={"right_toe_celsius": "31"},
        arm_right=140,
        right_hallux="-5",
        right_second_toe=61,
        toe_technique="one_cuff_hand",
    )

    limb = limb_history(measurer, exam.patient)[0].right

    assert (limb.toe, limb.toe_technique, limb.toe_skin_celsius) == (Site.TOE_2, "one_cuff_hand", 31)
    assert [(line.site, line.shown) for line in limb.readings] == [
        (Site.ARM, "140 mmHg"),
        (Site.TOE_1, "not obtained: wound at the sensor"),
        (Site.TOE_2, "61 mmHg"),
    ]


def test_a_corrected_reading_says_what_was_read_first_and_why(measurer):
    exam = whole_exam(measurer, right_hallux=48)
    first = reading_at(exam, "right_hallux")
    correct_reading(
        reading=first,
        value=read_reading("84", "toe_1"),
        technique=first.technique,
        reason="digits swapped",
        by=measurer,
    )

    line = next(
        line for line in limb_history(measurer, exam.patient)[0].right.readings if line.site is Site.TOE_1
    )

    assert line.corrected == "first read as 48 mmHg; corrected by Mina Measurer: digits swapped"


def test_only_the_measures_asked_for_are_read(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient)

    record = limb_history(measurer, patient, measures=["toe_pressure"])[0]

    assert {finding.measure for finding in record.interpretation.findings} == {"toe_pressure"}


def test_conditions_are_read_out_with_their_units(measurer):
    exam = exam_with(
        measurer,
        conditions={"position": "1", "right_toe_celsius": "27,5", "tobacco_hours": "3"},
        arm_right=140,
    )

    assert limb_history(measurer, exam.patient)[0].conditions == (
        ("position", "lying flat, heels supported"),
        ("RIGHT toe skin", "27.5 °C"),
        ("since tobacco", "3 hours"),
    )


def test_another_clinics_history_is_not_there(measurer, outsider):
    patient = new_patient(measurer)

    with pytest.raises(NotHere):
        limb_history(outsider, patient)
