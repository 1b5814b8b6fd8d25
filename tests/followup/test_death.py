"""A death stops everything at once; taken back, everything stands as it stood. Two records keep theirs."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError

from access import clock
from access.models import TrailRow
from exams.followup import services
from exams.followup.models import Promise, Recall, Referral, ReferralStep
from exams.followup.queries.patient import follow_up_page
from exams.followup.queries.promises import promises_due
from exams.followup.queries.recalls import recall_list
from exams.followup.queries.referrals import open_referrals, referrals_waiting
from reports.letters.models import ReferralLetter
from reports.letters.services import render_letter
from tests.build import booked_exam
from tests.followup.make import die, newest, promise, recall, referral, step, today
from tests.identity.make import everything, merge, two_records, undo
from tests.patients.make import fact

pytestmark = pytest.mark.django_db


@pytest.fixture
def followed(wound_nurse, measurer, patient):
    """Somebody with a referral, a recall long due, a promise due and a booking."""
    referral(wound_nurse, patient)
    recall(wound_nurse, patient, 3, today() - timedelta(days=200))
    promise(wound_nurse, patient, days=0)
    booked_exam(measurer, patient)
    return patient


def rows():
    return [
        list(model.objects.order_by("pk").values()) for model in (Referral, ReferralStep, Recall, Promise)
    ]


def test_at_a_death_nothing_is_due_any_more(wound_nurse, reporter, measurer, followed):
    die(wound_nurse, followed, today())

    assert referrals_waiting(reporter) == open_referrals(wound_nurse) == promises_due(wound_nurse) == ()
    shown = recall_list(wound_nurse, only_due=False)
    assert (shown.lines, shown.standing, shown.overdue) == ((), 0, 0)
    page = follow_up_page(wound_nurse, followed.pk)
    assert page.sentence.startswith("Death is recorded")
    assert len(page.bookings) == 1


def test_nothing_new_is_planned_for_the_dead(wound_nurse, reporter, followed):
    sent, due, said = Referral.objects.get(), Recall.objects.get(), Promise.objects.get()
    die(wound_nurse, followed, today())

    acts = [
        lambda: referral(wound_nurse, followed, reasons="another"),
        lambda: step(sent, "accepted", reporter),
        lambda: recall(wound_nurse, followed),
        lambda: services.record_contact(
            recall=due, tried_on=today(), way="letter", outcome="left_word", by=wound_nurse
        ),
        lambda: promise(wound_nurse, followed),
        lambda: services.keep_promise(promise=said, how="x", by=wound_nurse),
    ]

    for act in acts:
        with pytest.raises(ValidationError, match="This person died on"):
            act()


def test_an_event_entered_after_a_death_recalls_nobody(wound_nurse, patient):
    die(wound_nurse, patient, today())

    fact(wound_nurse, patient, started_on=today() - timedelta(days=3))

    assert not Recall.objects.exists()


def test_a_letter_that_waits_when_somebody_dies_is_not_made(wound_nurse, followed):
    letter = ReferralLetter.objects.get()
    die(wound_nurse, followed, today())
    letter = ReferralLetter.objects.get(pk=letter.pk)

    with pytest.raises(ValidationError, match="Death is recorded"):
        render_letter(letter=letter, by=wound_nurse)


def test_taken_back_everything_goes_on_exactly_and_the_trail_tells_both(wound_nurse, reporter, followed):
    before = rows()
    waiting = [one.id for one in referrals_waiting(reporter)]

    die(wound_nurse, followed, today())
    die(wound_nurse, followed, None)

    assert rows() == before
    assert [one.id for one in referrals_waiting(reporter)] == waiting
    assert recall_list(wound_nurse).overdue == 1
    told = TrailRow.objects.filter(action__startswith="follow-up", patient_id=followed.pk).order_by("pk")
    assert [row.action for row in told] == ["follow-up stopped by death", "follow-up goes on"]
    assert f'"referrals": [{Referral.objects.get().pk}]' in told[0].details_json


def test_a_merge_carries_everything_over_and_back(measurer, wound_nurse, reporter):
    survivor, merged = two_records(measurer)
    step(referral(wound_nurse, merged), "received", reporter)
    recall(wound_nurse, survivor)
    recall(wound_nurse, merged, 3)
    promise(wound_nurse, merged)
    fact(wound_nurse, merged, started_on=today())
    before = everything()

    done = merge(survivor, merged, reporter)
    page = follow_up_page(wound_nurse, survivor.pk)
    undo(done, reporter)

    assert len(page.referrals) == 1
    assert len(page.standing_recalls) == 3
    assert len(page.standing_promises) == 1
    ours = [table for table in before if table.startswith("followup.")]
    assert ours
    assert all(everything()[table] == before[table] for table in ours)


def test_what_was_recorded_since_goes_with_its_fact_or_exam(measurer, wound_nurse, reporter):
    survivor, merged = two_records(measurer)
    done = merge(survivor, merged, reporter)
    wound = fact(wound_nurse, survivor, started_on=today())
    exam = booked_exam(measurer, survivor)
    promise(wound_nurse, survivor, exam=exam)

    undo(done, reporter, **{f"patients.limbfact:{wound.pk}": "merged", f"visits.exam:{exam.pk}": "merged"})

    assert Recall.objects.get().patient == merged
    assert Promise.objects.get().patient == merged


def test_a_step_after_a_death_long_past_is_refused_too(wound_nurse, reporter, followed):
    with clock.at(clock.now() + timedelta(days=3)):
        die(wound_nurse, followed, today() - timedelta(days=2))
        with pytest.raises(ValidationError, match="stand still"):
            step(Referral.objects.get(), "received", reporter, seen=newest(Referral.objects.get()).pk)
