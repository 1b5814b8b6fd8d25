"""An urgent value opens a slip at once; it closes only when a person was told, or with a reason."""

from datetime import UTC, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from access import clock
from access.permissions import NotHere
from exams.patients.queries import today_in
from exams.patients.services import record_limb_fact, withdraw_limb_fact
from exams.visits.models import HandOver
from exams.visits.queries.exams import hand_over_for, open_hand_overs
from exams.visits.services import close_as_raised_in_error, close_hand_over, record_attempt, refresh_results
from tests.build import enter, exam_with, new_patient, whole_exam


@pytest.fixture
def ulcerated(measurer):
    """A person with an open wound of the RIGHT foot."""
    patient = new_patient(measurer)
    wound(patient, measurer)
    return patient


def wound(patient, by, side="right"):
    return record_limb_fact(
        patient=patient,
        side=side,
        kind="open_wound",
        started_on=today_in(patient.clinic),
        source="seen",
        by=by,
    )


def heal(patient, by):
    withdraw_limb_fact(fact=patient.limb_facts.get(kind="open_wound"), reason="other foot", by=by)


def tried(slip, by, whom):
    return record_attempt(
        slip=slip, whom=whom, number="00000 300", outcome="no answer", tried_at=clock.now(), by=by
    )


def told(slip, by, **otherwise):
    said = {
        "told_name": "Dr Vera Vascular",
        "told_role": "vascular surgeon on call",
        "told_number": "00000 300",
        "told_by": by.user,
        "told_at": clock.now(),
        "read_back": "RIGHT toe 24",
        "agreed": "seen today",
        "patient_told": "yes",
        **otherwise,
    }
    return close_hand_over(slip=slip, by=by, **said)


def test_a_toe_of_24_with_an_ulcer_opens_a_slip_the_moment_it_is_stored(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)

    slip = HandOver.objects.get(exam=exam)
    assert (slip.limb, slip.flag) == ("right", "URGENT_VASCULAR")
    assert "24" in slip.sentence
    assert slip.due_at == slip.raised_at


def test_a_toe_of_30_opens_none(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=30)

    assert not HandOver.objects.filter(exam=exam).exists()


def test_severe_figures_without_a_wound_are_due_within_a_working_day(measurer):
    friday = datetime(2026, 11, 27, 15, 0, tzinfo=UTC)
    with clock.at(friday):
        exam = exam_with(measurer, arm_right=140, right_hallux=24)

    slip = HandOver.objects.get(exam=exam)
    assert slip.flag == "SEVERE_ISCHAEMIA"
    assert slip.due_at == datetime(2026, 11, 30, 15, 0, tzinfo=UTC)


def test_an_ulcer_recorded_after_a_toe_of_24_opens_a_slip(measurer, wound_nurse):
    patient = new_patient(measurer)
    exam = whole_exam(measurer, patient, at=clock.now() - timedelta(days=40), right_hallux=24)
    milder = exam.hand_overs.get()
    assert milder.flag == "SEVERE_ISCHAEMIA"

    wound(patient, wound_nurse)

    slip = exam.hand_overs.get(closed_at=None)
    assert (slip.flag, slip.raised_by) == ("URGENT_VASCULAR", wound_nurse.user)
    milder.refresh_from_db()
    assert (milder.taken_over_by, milder.closed_by) == (slip, wound_nurse.user)


def test_the_graver_slip_keeps_the_tries_of_the_milder_one_and_names_it(measurer, client_as):
    patient = new_patient(measurer)
    exam = exam_with(measurer, patient, arm_right=140, right_hallux=24)
    milder = exam.hand_overs.get()
    tried(milder, measurer, whom="Dr Noel Noanswer")

    wound(patient, measurer)

    slip = exam.hand_overs.get(closed_at=None)
    page = client_as(measurer).get(f"/exams/hand-over/{slip.pk}/").content.decode()
    assert "Dr Noel Noanswer" in page
    assert f"/exams/hand-over/{milder.pk}/" in page


def test_a_slip_taken_over_cannot_be_closed_as_if_somebody_was_told(measurer):
    patient = new_patient(measurer)
    milder = exam_with(measurer, patient, arm_right=140, right_hallux=24).hand_overs.get()
    wound(patient, measurer)

    with pytest.raises(ValidationError, match="closed meanwhile"):
        told(milder, measurer)


def test_what_becomes_milder_stays_on_the_slip_that_is_open(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)

    heal(ulcerated, measurer)

    slip = exam.hand_overs.get()
    assert (slip.flag, slip.closed_at) == ("URGENT_VASCULAR", None)
    assert "severe ischaemia" in slip.reads_now.lower()


def test_what_is_urgent_still_is_not_dropped_with_a_slip_raised_in_error(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)
    heal(ulcerated, measurer)

    close_as_raised_in_error(
        slip=exam.hand_overs.get(), because="the wound was of the LEFT foot", by=measurer
    )

    assert exam.hand_overs.get(closed_at=None).flag == "SEVERE_ISCHAEMIA"


def test_the_milder_reading_of_a_graver_result_that_was_told_opens_no_slip(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)
    heal(ulcerated, measurer)
    told(exam.hand_overs.get(), measurer)

    refresh_results(exam=exam, by=measurer)

    assert exam.hand_overs.count() == 1


def test_a_slip_stays_when_its_value_is_corrected_and_says_so(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)

    enter(exam, "right.toe_1.1", 84, measurer)

    slip = HandOver.objects.get(exam=exam)
    assert slip.closed_at is None
    assert "the value behind this slip was changed" in slip.reads_now


def test_an_urgent_value_that_comes_back_after_raised_in_error_opens_another_slip(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)
    close_as_raised_in_error(slip=exam.hand_overs.get(), because="typed 24 for 84", by=measurer)
    enter(exam, "right.toe_1.1", 84, measurer)
    assert exam.hand_overs.count() == 1

    enter(exam, "right.toe_1.1", 24, measurer)

    assert exam.hand_overs.filter(closed_at=None).count() == 1


def test_a_closed_slip_is_not_opened_again_by_the_same_value(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)
    told(exam.hand_overs.get(), measurer)

    enter(exam, "left.arm.1", 138, measurer)

    assert exam.hand_overs.filter(closed_at=None).count() == 0


def test_a_slip_whose_value_moved_before_it_was_closed_is_not_raised_again(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24, right_hallux_2=27)
    slip = HandOver.objects.get(exam=exam)
    assert slip.reads_now != ""
    told(slip, measurer)

    refresh_results(exam=exam, by=measurer)

    assert HandOver.objects.filter(exam=exam).count() == 1


def test_a_slip_closes_when_everything_is_there(measurer, ulcerated):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)

    slip = told(exam.hand_overs.get(), measurer)

    assert slip.closed_by == measurer.user
    assert open_hand_overs(measurer) == []


@pytest.mark.parametrize(
    "missing", ["told_name", "told_role", "told_number", "read_back", "agreed", "patient_told"]
)
def test_a_slip_stays_open_while_anything_is_missing(measurer, ulcerated, missing):
    exam = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24)

    with pytest.raises(ValidationError) as refused:
        told(exam.hand_overs.get(), measurer, **{missing: " "})

    assert missing in refused.value.message_dict
    assert [line.exam_id for line in open_hand_overs(measurer)] == [exam.pk]


def test_nobody_was_told_before_the_slip_was_raised(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(ValidationError, match="before the slip was raised"):
        told(slip, measurer, told_at=slip.raised_at - timedelta(minutes=2))


def test_nobody_was_told_in_the_future(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(ValidationError, match="in the future"):
        told(slip, measurer, told_at=clock.now() + timedelta(minutes=2))


def test_the_minute_of_raising_is_no_contradiction(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    closed = told(slip, measurer, told_at=slip.raised_at.replace(second=0, microsecond=0))

    assert closed.told_at == slip.raised_at


def test_a_failed_try_is_a_row_and_leaves_the_slip_open(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    record_attempt(
        slip=slip,
        whom="Dr Vera Vascular",
        number="00000 300",
        outcome="no answer",
        tried_at=clock.now(),
        by=measurer,
    )

    assert [(line.attempts, line.is_open) for line in open_hand_overs(measurer)] == [(1, True)]


def test_a_slip_raised_in_error_needs_a_reason(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(ValidationError, match="Say why"):
        close_as_raised_in_error(slip=slip, because="", by=measurer)


def test_a_closed_slip_cannot_be_closed_twice(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()
    told(slip, measurer)

    with pytest.raises(ValidationError, match="closed meanwhile"):
        told(slip, measurer)


def test_no_signal_where_there_was_one_is_an_emergency(measurer):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, at=clock.now() - timedelta(days=100))

    exam = exam_with(
        measurer,
        patient,
        arm_right=140,
        right_posterior_tibial="/",
        right_dorsalis_pedis="/",
        right_hallux="/",
    )

    assert exam.hand_overs.filter(flag="POSSIBLE_ACUTE_ISCHAEMIA").exists()


def test_the_database_refuses_a_closed_slip_with_nobody_told(measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(IntegrityError), transaction.atomic():
        HandOver.objects.filter(pk=slip.pk).update(closed_at=clock.now(), closed_by=measurer.user)


def test_another_clinics_slip_is_not_there(measurer, outsider, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(NotHere):
        hand_over_for(outsider, slip.pk)
    assert open_hand_overs(outsider) == []


def test_an_administrator_does_not_hand_over(administrator, measurer, ulcerated):
    slip = exam_with(measurer, ulcerated, arm_right=140, right_hallux=24).hand_overs.get()

    with pytest.raises(PermissionDenied):
        told(slip, administrator)
