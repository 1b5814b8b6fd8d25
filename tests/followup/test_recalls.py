"""Who is due and why; tries; and that only a person's decision ends a recall."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction

from exams.followup import services
from exams.followup.models import Recall
from exams.followup.queries.recalls import recall_list, recalls_of
from exams.followup.services import set_target
from exams.patients.services import withdraw_limb_fact
from tests.build import new_patient, whole_exam
from tests.followup.make import recall, today
from tests.patients.make import correct, fact

pytestmark = pytest.mark.django_db


def days_ago(days):
    return today() - timedelta(days=days)


@pytest.mark.parametrize(
    ("category", "due_from", "due_by"),
    [
        (0, date(2026, 1, 31), date(2026, 1, 31)),
        (1, date(2025, 7, 31), date(2026, 1, 31)),
        (2, date(2025, 4, 30), date(2025, 7, 31)),
        (3, date(2025, 2, 28), date(2025, 4, 30)),
    ],
)
def test_a_category_is_due_by_the_published_months(wound_nurse, patient, category, due_from, due_by):
    """SCH20 Table 1: 12 months; 6 to 12; 3 to 6; 1 to 3. A month without that day ends on its last."""
    planned = recall(wound_nurse, patient, category, date(2025, 1, 31))

    assert (planned.due_from, planned.due_by) == (due_from, due_by)


def test_a_second_recall_by_category_is_refused_until_the_first_is_settled(wound_nurse, patient):
    recall(wound_nurse, patient)

    with pytest.raises(ValidationError, match="stands already"):
        recall(wound_nurse, patient, 3)


@pytest.mark.parametrize(
    ("event", "days"),
    [
        ({"kind": "open_wound"}, 14),
        ({"kind": "revascularisation", "approach": "endovascular"}, 30),
        ({"kind": "amputation", "level": "toe", "toe": 2}, 0),
        ({"kind": "foot_infection", "grade": "mild"}, 0),
    ],
)
def test_an_event_raises_a_recall_for_a_new_baseline(wound_nurse, patient, event, days):
    event_row = fact(wound_nurse, patient, started_on=days_ago(3), **event)

    raised = Recall.objects.get()

    assert (raised.kind, raised.fact) == (event["kind"], event_row)
    assert raised.due_by == days_ago(3) + timedelta(days=days)


def test_an_event_since_which_an_exam_was_measured_raises_none(measurer, patient):
    whole_exam(measurer, patient)

    fact(measurer, patient, started_on=days_ago(30))

    assert not Recall.objects.exists()


def test_a_clinic_may_wait_otherwise_for_an_event(wound_nurse, administrator, patient):
    set_target(key="event.amputation", days=21, because="local protocol", by=administrator)

    fact(wound_nurse, patient, kind="amputation", level="toe", toe=2, started_on=today())

    assert Recall.objects.get().due_by == today() + timedelta(days=21)


def test_an_event_that_never_was_ends_its_recall_and_a_corrected_one_has_another(wound_nurse, patient):
    wrong = fact(wound_nurse, patient, started_on=days_ago(2))
    right = correct(wound_nurse, wrong, side="left")

    first, second = Recall.objects.order_by("pk")
    assert (first.ended_as, first.ended_because) == ("never_was", "wrong day")
    assert (second.fact, second.ended_at) == (right, None)

    withdraw_limb_fact(fact=right, reason="other person", by=wound_nurse)

    second.refresh_from_db()
    assert (second.ended_as, second.ended_because) == ("never_was", "other person")


def test_a_try_that_reached_nobody_leaves_the_recall_standing(wound_nurse, patient):
    due = recall(wound_nurse, patient, 3, days_ago(100))

    services.record_contact(
        recall=due, tried_on=today(), way="telephone", outcome="not_reached", words="rang out", by=wound_nurse
    )

    line = recall_list(wound_nurse).lines[0]
    assert (line.attempts[0].words, line.recall.ended_at) == ("rang out", None)
    assert line.next_step.startswith("Last try")
    assert line.overdue_days > 0


def test_seen_the_next_date_is_set_and_both_stay(wound_nurse, patient):
    due = recall(wound_nurse, patient, 2, days_ago(100))

    following = services.mark_seen(
        recall=due, on=days_ago(1), how="both feet seen", category=3, because="new deformity", by=wound_nurse
    )

    due.refresh_from_db()
    assert due.ended_as == "seen"
    assert (following.follows, following.category, following.counted_from) == (due, 3, days_ago(1))
    assert [one.recall for one in recalls_of(wound_nurse, patient)] == [following, due]


def test_a_recall_by_category_is_not_let_go_without_a_next_date_or_a_reason(wound_nurse, patient):
    due = recall(wound_nurse, patient)

    with pytest.raises(ValidationError) as no_date:
        services.mark_seen(recall=due, on=today(), how="seen", by=wound_nurse)
    with pytest.raises(ValidationError) as no_reason:
        services.end_recall(recall=due, how="discharged", because=" ", by=wound_nurse)
    with pytest.raises(ValidationError) as by_itself:
        services.end_recall(recall=due, how="never_was", because="x", by=wound_nurse)

    assert set(no_date.value.message_dict) == {"category"}
    assert set(no_reason.value.message_dict) == {"because"}
    assert set(by_itself.value.message_dict) == {"how"}


def test_an_exam_since_then_is_shown_but_ends_nothing(measurer, wound_nurse, patient):
    due = recall(wound_nurse, patient, 3, days_ago(100))

    whole_exam(measurer, patient)

    line = recall_list(wound_nurse).lines[0]
    assert line.measured_on == today()
    assert "say that the person was seen" in line.next_step
    due.refresh_from_db()
    assert due.ended_at is None


def test_who_has_no_care_of_people_recalls_nobody(administrator, patient):
    with pytest.raises(PermissionDenied):
        recall(administrator, patient)


def test_the_database_keeps_category_and_event_apart_and_ends_whole(wound_nurse, patient):
    due = recall(wound_nurse, patient)

    for wrong in ({"category": None}, {"kind": "amputation"}, {"ended_as": "seen"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Recall.objects.filter(pk=due.pk).update(**wrong)


def test_the_list_costs_the_same_queries_for_one_and_for_many(
    wound_nurse, measurer, patient, django_assert_num_queries
):
    recall(wound_nurse, patient, 3, days_ago(100))
    with django_assert_num_queries(4):
        recall_list(wound_nurse)
    for _ in range(5):
        recall(wound_nurse, new_patient(measurer), 3, days_ago(100))

    with django_assert_num_queries(4):
        assert recall_list(wound_nurse).overdue == 6
