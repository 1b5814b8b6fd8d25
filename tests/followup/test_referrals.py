"""A referral goes from the wound team to the surgeon's side and back, step by step, and nothing is lost."""

from datetime import date, datetime, timedelta
from itertools import pairwise

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from access import clock
from access.models import TrailRow
from exams.followup import services
from exams.followup.course import ANSWERING, MOVES, REFERRING, State, moves_from
from exams.followup.models import Referral, ReferralStep
from exams.followup.queries.patient import referral_proposal
from exams.followup.queries.referrals import open_referrals, referrals_of, referrals_waiting
from exams.followup.services import set_target
from reports.letters.models import ReferralLetter
from tests.build import new_patient, whole_exam
from tests.followup.make import newest, referral, step, today
from tests.patients.make import fact
from tests.wounds.make import assess
from tests.wounds.make import wound as wound_of

pytestmark = pytest.mark.django_db
MONDAY = "2026-03-02T09:00:00+00:00"


def at(text):
    return clock.at(datetime.fromisoformat(text))


def test_a_referral_is_taken_up_answered_and_closed_with_every_step_kept(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)

    step(sent, "received", reporter)
    step(sent, "accepted", reporter, day=today() + timedelta(days=2))
    step(sent, "seen", reporter, day=today())
    step(sent, "treated", reporter, day=today(), words="angioplasty of the anterior tibial artery")
    step(sent, "outcome", reporter, words="measure a new baseline in a month")
    step(sent, "closed", wound_nurse, words="baseline planned")

    steps = list(sent.steps.all())
    assert [one.state for one in steps] == [
        "sent", "received", "accepted", "seen", "treated", "outcome", "closed",
    ]  # fmt: skip
    assert [one.by_role for one in steps[:2]] == ["wound_team", "reporter"]
    assert all(later.follows == earlier for earlier, later in pairwise(steps))
    sent.refresh_from_db()
    assert sent.state == "closed"
    told = TrailRow.objects.filter(subject_type="followup.referral", subject_id=str(sent.pk))
    assert told.filter(action__startswith="referral ").count() == 7


@pytest.mark.parametrize(
    "after", [move.after for move in MOVES if move.before == "sent" and move.by == ANSWERING]
)
def test_the_wound_team_takes_no_step_of_the_surgeons_side(wound_nurse, patient, after):
    sent = referral(wound_nurse, patient)

    with pytest.raises(PermissionDenied):
        step(sent, after, wound_nurse, words="said by telephone")

    assert newest(sent).state == "sent"


def test_the_surgeons_side_neither_refers_nor_closes(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)

    with pytest.raises(PermissionDenied):
        referral(reporter, patient)
    with pytest.raises(PermissionDenied):
        step(sent, "closed", reporter, words="done")


def test_a_step_that_does_not_follow_is_refused(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)

    with pytest.raises(ValidationError, match="Choose a step that follows"):
        step(sent, "treated", reporter, day=today(), words="bypass")


def test_returned_with_a_question_it_is_answered_and_sent_again_with_a_letter_of_its_own(
    wound_nurse, reporter, patient
):
    sent = referral(wound_nurse, patient)
    step(sent, "returned", reporter, words="which toe, and since when?")

    step(sent, "sent", wound_nurse, words="hallux, three weeks", urgency="at_once")

    sent.refresh_from_db()
    assert (sent.state, sent.urgency) == ("sent", "at_once")
    letters = list(ReferralLetter.objects.order_by("pk"))
    assert [one.content["again"] for one in letters] == ["", "hallux, three weeks"]
    assert letters[1].content["status"] == "REFERRAL: at once"


def test_what_must_be_told_is_asked_at_its_field(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)

    with pytest.raises(ValidationError) as declined:
        step(sent, "declined", reporter, words=" ")
    step(sent, "accepted", reporter)
    with pytest.raises(ValidationError) as seen:
        step(sent, "seen", reporter)
    with pytest.raises(ValidationError) as tomorrow:
        step(sent, "seen", reporter, day=today() + timedelta(days=1))

    assert declined.value.message_dict == {"words": ["Say why, and what to do instead."]}
    assert seen.value.message_dict == {"day": ["Write the day it was, or “today”."]}
    assert "still to come" in tomorrow.value.message_dict["day"][0]


def test_two_people_who_answer_at_once_are_told_of_each_other(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)
    seen = newest(sent).pk
    step(sent, "returned", reporter, words="which toe?")

    with pytest.raises(ValidationError, match="now “returned with a question”"):
        step(sent, "accepted", reporter, seen=seen)


def test_sent_twice_by_a_double_click_it_is_one_referral_one_letter_and_one_step(
    wound_nurse, reporter, patient
):
    sent = referral(wound_nurse, patient)
    again = referral(wound_nurse, patient)
    seen = newest(sent).pk

    step(sent, "accepted", reporter, seen=seen)
    step(sent, "accepted", reporter, seen=seen)

    assert again == sent
    assert ReferralLetter.objects.count() == 1
    assert sent.steps.count() == 2


def test_the_database_lets_no_step_in_that_is_not_allowed_and_no_second_line(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)
    first = newest(sent)
    said = {
        "referral": sent,
        "urgency": "at_once",
        "at": clock.now(),
        "by": reporter.user,
        "by_role": "reporter",
    }
    wrong = [
        {"before": "sent", "state": "treated", "follows": first, "day": today(), "words": "bypass"},
        {"before": "", "state": "sent", "follows": None},
        {"before": "sent", "state": "declined", "follows": first, "words": ""},
        {"before": "accepted", "state": "seen", "follows": first, "day": None},
        {"before": "sent", "state": "accepted", "follows": None},
    ]

    for row in wrong:
        with pytest.raises(IntegrityError), transaction.atomic():
            ReferralStep.objects.create(**said, **row)


def test_every_state_but_closed_can_be_left_and_either_side_has_its_own_steps():
    assert all(moves_from(state) for state in State if state != State.CLOSED)
    assert not moves_from(State.CLOSED)
    assert {move.by for move in MOVES} == {REFERRING, ANSWERING}


def test_what_nobody_answered_in_time_is_late_by_working_days(wound_nurse, reporter, patient):
    with at("2026-03-06T16:00:00+00:00"):  # a Friday
        referral(wound_nurse, patient)
    with at("2026-03-09T09:00:00+00:00"):
        monday = open_referrals(wound_nurse)[0]
    with at("2026-03-10T09:00:00+00:00"):
        tuesday = referrals_waiting(wound_nurse)[0]

    assert (monday.due, monday.late_days) == (date(2026, 3, 9), 0)
    assert (tuesday.late_days, tuesday.next_step) == (1, "Ring the surgeon's side: nobody has answered yet.")


def test_today_shows_each_side_what_it_has_to_do(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient)
    assert [one.id for one in referrals_waiting(reporter)] == [sent.pk]
    assert referrals_waiting(wound_nurse) == ()

    step(sent, "returned", reporter, words="which toe?")

    assert referrals_waiting(reporter) == ()
    waiting = referrals_waiting(wound_nurse)[0]
    assert waiting.next_step == "Answer the question and send it again."


def test_what_was_sent_at_once_stands_before_both_sides_until_it_is_answered(wound_nurse, reporter, patient):
    sent = referral(wound_nurse, patient, urgency="at_once")
    waiting = [one.id for one in referrals_waiting(wound_nurse)]

    step(sent, "accepted", reporter)

    assert waiting == [sent.pk]
    assert referrals_waiting(wound_nurse) == ()


def test_a_clinic_sets_its_own_target_and_an_empty_one_calls_nothing_late(
    wound_nurse, administrator, patient
):
    with at(MONDAY):
        referral(wound_nurse, patient, urgency="six_to_eight_weeks")
        before = open_referrals(wound_nurse)[0].due
        set_target(key="answer.six_to_eight_weeks", days=5, because="local pathway", by=administrator)
        after = open_referrals(wound_nurse)[0].due

    assert before is None
    assert after == date(2026, 3, 9)


def test_the_record_proposes_urgency_and_reasons_which_are_kept_beside_what_was_sent(measurer, wound_nurse):
    patient = new_patient(measurer)
    exam = whole_exam(measurer, patient, left_hallux=24)
    fact(measurer, patient, side="left", started_on=today())

    offered = referral_proposal(wound_nurse, patient.pk, exam.pk)
    sent = referral(
        wound_nurse,
        patient,
        urgency_proposed=offered.urgency,
        reasons_proposed=offered.reasons,
        exam=offered.exam,
        side=offered.side,
    )

    assert (offered.urgency, offered.side, offered.exam) == ("at_once", "left", exam)
    assert "toe pressure 24 mmHg" in offered.reasons
    assert "LEFT: open wound since" in offered.reasons
    assert (sent.urgency_proposed, sent.urgency) == ("at_once", "one_working_day")


def test_from_the_outlook_the_core_says_how_soon_to_whom_and_why(measurer, wound_nurse):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, right_hallux=24)
    assess(wound_nurse, wound_of(wound_nurse, patient, "right:toe_1_sole"))

    offered = referral_proposal(wound_nurse, patient.pk, side="right")

    assert (offered.urgency, offered.side, offered.sent_to) == (
        "at_once",
        "right",
        "Vascular team and acute services",
    )
    assert offered.reasons.startswith("A limb in danger from lack of blood flow: toe 24 mmHg")


def test_an_exam_of_another_person_is_no_reason(measurer, wound_nurse, patient):
    exam = whole_exam(measurer, new_patient(measurer))

    with pytest.raises(ValidationError, match="not this person's"):
        referral(wound_nurse, patient, exam=exam)


def test_lists_cost_the_same_queries_for_one_and_for_many(
    wound_nurse, reporter, patient, django_assert_num_queries
):
    step(referral(wound_nurse, patient), "received", reporter)
    with django_assert_num_queries(3):
        open_referrals(wound_nurse)
    for number in range(6):
        step(referral(wound_nurse, patient, reasons=f"reason {number}"), "accepted", reporter)

    with django_assert_num_queries(3):
        assert len(open_referrals(wound_nurse)) == 7
    with django_assert_num_queries(3):
        assert len(referrals_of(wound_nurse, patient)) == 7


def test_another_clinic_finds_nothing(wound_nurse, outsider, patient):
    sent = referral(wound_nurse, patient)

    assert open_referrals(outsider) == ()
    with pytest.raises(Exception, match="another clinic"):
        services.take_step(referral=sent, after="closed", seen=newest(sent).pk, words="x", by=outsider)
    assert Referral.objects.get().state == "sent"
