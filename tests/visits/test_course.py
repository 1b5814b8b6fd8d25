"""The course of an exam: which step may follow which, and what each must know first."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.permissions import NotHere
from exams.patients.services import change_patient
from exams.visits.models import ExamState, Indication
from exams.visits.services import (
    book_exam,
    confirm_cautions,
    confirm_identity,
    finish_measuring,
    lie_flat,
    mark_reported,
    not_attended,
    reopen,
    set_indication,
    set_typed_times,
    stop_exam,
)
from tests.build import WHOLE, booked_exam, enter, exam_with, ready_exam, whole_exam

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def refusal(act, **given):
    with pytest.raises(ValidationError) as refused:
        act(**given)
    return " ".join(refused.value.messages)


def test_an_exam_goes_from_booked_to_reported(measurer):
    exam = booked_exam(measurer)
    assert exam.state == ExamState.BOOKED

    exam = confirm_identity(exam=exam, how="stated", by=measurer)
    assert exam.state == ExamState.IDENTIFIED

    exam = lie_flat(exam=exam, by=measurer)
    assert exam.state == ExamState.RESTING

    exam = whole_exam(measurer)
    assert exam.state == ExamState.MEASURED

    assert mark_reported(exam=exam, by=measurer).state == ExamState.REPORTED


def test_nothing_is_measured_before_the_indication_is_known(measurer):
    exam = confirm_identity(exam=booked_exam(measurer), how="stated", by=measurer)
    confirm_cautions(exam=exam, by=measurer)

    assert "why the test is done" in refusal(enter, exam=exam, field="right.arm.1", typed=140, by=measurer)
    assert exam.readings.count() == 0


def test_nothing_is_measured_before_the_cautions_are_answered(measurer):
    exam = confirm_identity(exam=booked_exam(measurer), how="stated", by=measurer)
    set_indication(exam=exam, indication=Indication.REST_PAIN, by=measurer)

    assert "reasons not to inflate" in refusal(enter, exam=exam, field="right.arm.1", typed=140, by=measurer)


def test_nothing_is_measured_before_identity_is_confirmed(measurer):
    exam = booked_exam(measurer)

    assert "identity" in refusal(enter, exam=exam, field="right.arm.1", typed=140, by=measurer)


def test_rest_is_the_difference_of_two_stored_times(measurer):
    with clock.at(NOON):
        exam = ready_exam(measurer, rest_minutes=0)
    with clock.at(NOON + timedelta(minutes=11, seconds=40)):
        enter(exam, "right.arm.1", 140, measurer)

    exam.refresh_from_db()
    assert exam.first_inflation_at - exam.lying_flat_at == timedelta(minutes=11, seconds=40)


def test_the_rest_clock_can_be_started_again_until_the_first_cuff(measurer):
    exam = ready_exam(measurer)
    exam.refresh_from_db()
    later = lie_flat(exam=exam, by=measurer)
    assert later.lying_flat_at > exam.lying_flat_at

    enter(exam, "right.arm.1", 140, measurer)
    assert "measuring" in refusal(lie_flat, exam=exam, by=measurer)


def test_measuring_ends_only_when_every_planned_site_has_a_reading_or_a_reason(measurer):
    exam = exam_with(measurer, **{**WHOLE, "left_hallux": ""})

    words = refusal(finish_measuring, exam=exam, by=measurer)
    assert words == ("Still without a reading or a reason: LEFT hallux. Everything typed is kept.")

    enter(exam, "left.toe_1.1", "-8", measurer)
    assert finish_measuring(exam=exam, by=measurer).limited


def test_an_exam_with_every_reading_is_not_limited(measurer):
    assert not whole_exam(measurer).limited


def test_an_exam_that_is_stopped_says_why_and_keeps_what_was_measured(measurer):
    exam = exam_with(measurer, arm_right=140, right_hallux=48)

    assert "Say why" in refusal(stop_exam, exam=exam, because=" ", by=measurer)
    stopped = stop_exam(exam=exam, because="felt unwell", by=measurer)

    assert (stopped.state, stopped.closed_because) == (ExamState.STOPPED, "felt unwell")
    assert stopped.readings.count() == 2
    assert stopped.results.exists()


def test_a_person_who_did_not_come_can_come_after_all(wound_nurse, measurer):
    exam = not_attended(exam=booked_exam(wound_nurse), because="did not come", by=wound_nurse)

    assert reopen(exam=exam, because="came an hour late", by=measurer).state == ExamState.BOOKED


def test_a_measured_exam_takes_no_new_reading_until_it_is_opened_again(measurer):
    exam = whole_exam(measurer)
    assert "open the exam again" in refusal(enter, exam=exam, field="right.toe_1.2", typed=100, by=measurer)

    reopen(exam=exam, because="second toe reading forgotten", by=measurer)
    enter(exam, "right.toe_1.2", 100, measurer)

    assert exam.readings.filter(attempt=2).count() == 1


def test_a_reported_exam_is_not_opened_again(measurer):
    exam = mark_reported(exam=whole_exam(measurer), by=measurer)

    assert "reported" in refusal(reopen, exam=exam, because="late thought", by=measurer)


def test_an_exam_entered_later_carries_typed_times_and_says_so(measurer):
    exam = ready_exam(measurer, entered_later=True, booked_for=clock.now() - timedelta(days=3))
    lying = exam.booked_for + timedelta(minutes=5)

    set_typed_times(
        exam=exam, lying_flat_at=lying, first_inflation_at=lying + timedelta(minutes=12), by=measurer
    )
    enter(exam, "right.arm.1", 140, measurer)

    exam.refresh_from_db()
    assert exam.first_inflation_at == lying + timedelta(minutes=12)
    rest = exam.results.get(measure="rest").finding
    assert "REST_TYPED" in rest["flags"]


def test_a_day_that_is_over_is_booked_only_as_entered_later(measurer, patient):
    past = clock.now() - timedelta(days=2)

    words = refusal(book_exam, patient=patient, exam_type="full", booked_for=past, by=measurer)

    assert "entered later" in words


def test_another_reason_for_the_test_is_said_in_words(measurer):
    exam = booked_exam(measurer)

    assert "Say what" in refusal(set_indication, exam=exam, indication="other", by=measurer)


def test_a_wound_nurse_books_but_does_not_measure(wound_nurse):
    exam = booked_exam(wound_nurse)

    with pytest.raises(PermissionDenied):
        confirm_identity(exam=exam, how="stated", by=wound_nurse)


def test_another_clinics_exam_is_not_there(measurer, outsider):
    exam = ready_exam(measurer)

    with pytest.raises(NotHere):
        enter(exam, "right.arm.1", 140, outsider)


def test_typing_the_first_value_again_later_does_not_lengthen_the_rest(measurer):
    with clock.at(NOON):
        exam = ready_exam(measurer, rest_minutes=0)
    with clock.at(NOON + timedelta(minutes=8)):
        enter(exam, "right.arm.1", 140, measurer)
    with clock.at(NOON + timedelta(minutes=20)):
        enter(exam, "right.arm.1", 142, measurer)

    exam.refresh_from_db()
    assert exam.first_inflation_at == NOON + timedelta(minutes=8)


def test_no_exam_is_booked_or_begun_after_a_recorded_death(measurer):
    exam = booked_exam(measurer)
    patient = change_patient(
        patient=exam.patient,
        revision=exam.patient.revision,
        died_on=(clock.now() - timedelta(days=3)).date(),
        by=measurer,
    )

    with pytest.raises(ValidationError) as refused:
        book_exam(patient=patient, exam_type="full", booked_for=clock.now(), by=measurer)
    assert "If the day of death is wrong" in refused.value.message_dict["booked_for"][0]
    exam.refresh_from_db()
    assert "This person died on" in refusal(confirm_identity, exam=exam, how="stated", by=measurer)
    on_paper = clock.now() - timedelta(days=4)
    assert book_exam(
        patient=patient, exam_type="full", booked_for=on_paper, entered_later=True, by=measurer
    ).pk
