"""The demonstration tells its stories through the services, whole, and the same every time."""

from datetime import UTC, datetime

import pytest

from access import clock
from access.verify import verify_all
from exams.patients.models import Patient
from exams.visits.models import Exam, HandOver, Reading, Result
from vaslab.demo import tell
from vaslab.demo.stories import STORIES

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture
def told(monkeypatch):
    """Three of the stories, so that every run stays quick; the whole is told by `./run demo`."""
    monkeypatch.setattr(tell, "STORIES", tuple(one for one in STORIES if one.family in CHOSEN))
    with clock.at(NOW):
        tell.tell_everything(NOW, lambda step: None)


CHOSEN = {"Watermint", "Eelby", "Kingcup"}


def of(family: str) -> Patient:
    return Patient.objects.get(family_name=family)


def test_the_stories_are_told_on_the_days_they_happened(told):
    days = [
        exam.booked_for.date().isoformat() for exam in Exam.objects.filter(patient=of("Eelby")).order_by("pk")
    ]

    assert days == ["2021-02-24", "2023-04-05", "2025-01-08", "2026-08-12"]


def test_the_arm_with_the_fistula_is_never_inflated_once_it_is_known(told):
    left_arms = Reading.objects.filter(exam__patient=of("Eelby"), side="left", site="arm").order_by("pk")

    assert [row.outcome for row in left_arms] == ["pressure", "not_obtained", "not_obtained", "not_obtained"]


def test_a_foot_that_lost_its_signal_was_handed_over_and_is_closed(told):
    slips = HandOver.objects.filter(exam__patient=of("Kingcup"))

    assert {slip.told_name for slip in slips} == {"Dr Rowan Staithe"}
    assert all(slip.closed_at for slip in slips)


def test_the_slip_of_today_is_still_open(told):
    slip = HandOver.objects.get(exam__patient=of("Watermint"))

    assert slip.closed_at is None
    assert slip.limb == "left"


def test_every_measured_exam_has_findings_and_the_trail_is_whole(told):
    measured = Exam.objects.filter(state__in=["measured", "reported"])

    assert Result.objects.values("exam").distinct().count() == measured.count()
    assert all(chain.whole for chain in verify_all({}))


def test_every_reading_in_the_stories_can_be_typed_at_the_sheet():
    for story in STORIES:
        for visit in story.visits:
            for place, typed in tell._places(visit):
                assert tell.read_reading(tell._as_typed(typed), place.site) is not None
