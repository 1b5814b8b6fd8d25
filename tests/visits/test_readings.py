"""Readings are stored with their meaning, never overwritten, and corrected only with a reason."""

from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from access.models import TrailRow
from exams.hemodynamics import Side
from exams.visits.errors import StaleValue
from exams.visits.models import Reading
from exams.visits.queries.chart import chart_of
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import correct_reading
from exams.visits.typed import read_reading
from tests.build import enter, exam_with, reading_at, ready_exam, whole_exam


def standing(exam):
    return {place.name: row.pressure_mmhg for place, row in chart_of(exam).standing.items()}


def test_a_reading_is_stored_together_with_what_it_means(measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=49)

    found = stored_interpretation(exam).of("toe_brachial_index", Side.RIGHT)

    assert found.shown == "0.35"


def test_retyping_before_measured_keeps_the_first_value_silently(measurer):
    exam = exam_with(measurer, right_hallux=48)
    first = reading_at(exam, "right_hallux")

    enter(exam, "right.toe_1.1", 84, measurer)

    second = reading_at(exam, "right_hallux")
    first.refresh_from_db()
    assert (first.pressure_mmhg, second.pressure_mmhg) == (48, 84)
    assert second.replaces == first
    assert standing(exam) == {"right.toe_1.1": 84}


def test_typing_the_same_again_writes_nothing(measurer):
    exam = exam_with(measurer, right_hallux=48)

    enter(exam, "right.toe_1.1", "48.0", measurer)

    assert exam.readings.count() == 1


def test_an_emptied_field_withdraws_and_keeps_the_value(measurer):
    exam = exam_with(measurer, right_hallux=48)

    enter(exam, "right.toe_1.1", "", measurer)

    assert standing(exam) == {}
    assert [row.pressure_mmhg for row in exam.readings.order_by("pk")] == [48, 48]
    assert reading_at(exam, "right_hallux").withdrawn


def test_a_withdrawn_place_can_be_filled_again(measurer):
    exam = exam_with(measurer, right_hallux=48)
    enter(exam, "right.toe_1.1", "", measurer)

    enter(exam, "right.toe_1.1", 52, measurer)

    assert standing(exam) == {"right.toe_1.1": 52}


def test_the_same_entry_sent_twice_is_stored_once(measurer):
    exam = ready_exam(measurer)
    number = uuid4()

    first = enter(exam, "right.arm.1", 140, measurer, client_id=number)
    again = enter(exam, "right.arm.1", 140, measurer, client_id=number, seen_revision=0)

    assert first == again
    assert exam.readings.count() == 1


def test_an_entry_of_one_field_cannot_be_used_for_another(measurer):
    exam = ready_exam(measurer)
    number = uuid4()
    enter(exam, "right.arm.1", 140, measurer, client_id=number)

    with pytest.raises(ValidationError, match="already used"):
        enter(exam, "left.arm.1", 140, measurer, client_id=number)


def test_a_value_somebody_else_put_there_meanwhile_is_never_overwritten(measurer):
    exam = exam_with(measurer, right_hallux=48)
    theirs = reading_at(exam, "right_hallux")

    with pytest.raises(StaleValue) as stale:
        enter(exam, "right.toe_1.1", 52, measurer, seen_revision=0)

    assert (stale.value.theirs, stale.value.by, stale.value.revision) == ("48", "Mina Measurer", theirs.pk)
    assert standing(exam) == {"right.toe_1.1": 48}


def test_two_people_at_two_fields_never_clash(measurer):
    exam = ready_exam(measurer)

    enter(exam, "right.arm.1", 140, measurer, seen_revision=0)
    enter(exam, "left.arm.1", 138, measurer, seen_revision=0)

    assert standing(exam) == {"right.arm.1": 140, "left.arm.1": 138}


def test_a_corrected_reading_keeps_the_first_value_and_the_reason(measurer):
    exam = whole_exam(measurer, right_hallux=48)
    first = reading_at(exam, "right_hallux")

    second = correct_reading(
        reading=first,
        value=read_reading("84", "toe_1"),
        technique=first.technique,
        reason="digits swapped",
        by=measurer,
    )

    first.refresh_from_db()
    assert first.pressure_mmhg == 48
    assert (second.replaces, second.replaced_because) == (first, "digits swapped")
    assert stored_interpretation(exam).of("toe_pressure", Side.RIGHT).shown == "84 mmHg"


def test_a_correction_without_a_reason_is_refused(measurer):
    exam = whole_exam(measurer)
    first = reading_at(exam, "right_hallux")

    with pytest.raises(ValidationError, match="Say why"):
        correct_reading(
            reading=first,
            value=read_reading("84", "toe_1"),
            technique=first.technique,
            reason=" ",
            by=measurer,
        )


def test_a_correction_can_take_a_reading_back(measurer):
    exam = whole_exam(measurer)
    first = reading_at(exam, "right_hallux")

    correct_reading(reading=first, value=None, technique=first.technique, reason="wrong foot", by=measurer)

    assert "right.toe_1.1" not in standing(exam)


def test_a_third_reading_makes_the_median_count(measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=40, right_hallux_2=60, right_hallux_3=44)

    assert stored_interpretation(exam).of("toe_pressure", Side.RIGHT).shown == "44 mmHg"


def test_an_absent_toe_takes_no_reading(measurer, patient):
    from exams.patients.queries import today_in
    from exams.patients.services import record_limb_fact

    record_limb_fact(
        patient=patient,
        side="right",
        kind="amputation",
        level="toe",
        toe=1,
        started_on=today_in(patient.clinic),
        source="seen",
        by=measurer,
    )
    exam = ready_exam(measurer, patient)

    with pytest.raises(ValidationError, match="amputated or absent"):
        enter(exam, "right.toe_1.1", 48, measurer)
    assert "toe_2" in chart_of(exam).planned("right")


def test_every_reading_leaves_a_trail_line_with_old_and_new(measurer):
    exam = exam_with(measurer, right_hallux=48)

    enter(exam, "right.toe_1.1", 84, measurer)

    line = TrailRow.objects.filter(action="reading recorded").latest("pk")
    assert '"old": "48 mmHg"' in line.details_json
    assert '"new": "84 mmHg"' in line.details_json
    assert line.patient_id == exam.patient_id


def test_the_database_refuses_a_pressure_beside_no_signal(measurer):
    row = reading_at(exam_with(measurer, right_hallux="/"), "right_hallux")

    with pytest.raises(IntegrityError), transaction.atomic():
        Reading.objects.filter(pk=row.pk).update(pressure_mmhg=10)


def test_the_database_refuses_two_first_entries_at_one_place(measurer):
    row = reading_at(exam_with(measurer, right_hallux=48), "right_hallux")

    row.pk, row.client_id = None, uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_technique_that_does_not_belong_to_the_site_is_refused(measurer):
    exam = ready_exam(measurer)

    with pytest.raises(ValidationError, match="Choose how it was measured"):
        enter(exam, "right.arm.1", 140, measurer, technique="one_cuff_hand")


@pytest.mark.parametrize(
    "wrong",
    [
        {"pressure_mmhg": 301},
        {"site": "arm", "pressure_mmhg": 49},
        {"technique": "guess"},
        {"attempt": 4},
        {"withdrawn": True},
        {"outcome": "not_obtained", "pressure_mmhg": None},
        {"override_because": "nobody said so"},
    ],
)
def test_the_database_refuses_a_reading_that_cannot_be(measurer, wrong):
    row = reading_at(exam_with(measurer, right_hallux=48), "right_hallux")

    with pytest.raises(IntegrityError), transaction.atomic():
        Reading.objects.filter(pk=row.pk).update(**wrong)
