"""Episodes, wounds, and what they do to the limb's facts and the latest exam."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from exams.patients.events import FactKind
from exams.patients.models import LimbFact
from exams.patients.services import change_patient, record_limb_fact, withdraw_limb_fact
from exams.visits.models import HandOver
from exams.wounds.models import Episode, WoundEntry
from exams.wounds.queries import open_wounds
from exams.wounds.services import (
    close_wound,
    correct_wound,
    judge_beyond_salvage,
    lose_episode,
    withdraw_wound,
)
from tests.build import whole_exam
from tests.wounds.make import assess, days_ago, today, wound

pytestmark = pytest.mark.django_db


def open_facts(patient, kind=FactKind.OPEN_WOUND):
    return LimbFact.objects.filter(
        patient=patient, kind=kind, ended_on=None, withdrawn_at=None, replaced_by=None
    )


def test_an_episode_begins_with_the_first_wound_and_ends_when_all_are_healed(wound_nurse, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole", began=30)
    second = wound(wound_nurse, patient, "left:heel_back", began=10)
    close_wound(wound=first, status="healed", closed_on=days_ago(5), by=wound_nurse)
    assert Episode.objects.get().ended_on is None

    close_wound(wound=second, status="healed", closed_on=days_ago(2), by=wound_nurse)

    episode = Episode.objects.get()
    assert (episode.began_on, episode.ended_on, episode.ended_how) == (days_ago(30), days_ago(2), "healed")
    assert wound(wound_nurse, patient, began=1).episode != episode


def test_a_wound_found_to_have_been_there_before_the_end_opens_the_episode_again(wound_nurse, patient):
    first = wound(wound_nurse, patient, began=30)
    close_wound(wound=first, status="healed", closed_on=days_ago(5), by=wound_nurse)

    late = wound(wound_nurse, patient, "left:heel_back", began=20)

    assert late.episode == first.episode
    assert Episode.objects.get().ended_on is None


def test_an_ulcer_recorded_after_a_toe_of_24_still_alerts_someone(wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=24, at=clock.now() - timedelta(days=3))
    before = HandOver.objects.filter(closed_at=None).latest("pk")

    wound(wound_nurse, patient, "right:toe_1_sole", began=1)

    slip = HandOver.objects.filter(closed_at=None).latest("pk")
    assert "URGENT" in slip.sentence
    assert "open wound" in slip.sentence
    assert slip.pk != before.pk
    assert TrailRow.objects.filter(action="exam interpreted again").exists()


def test_the_limbs_open_wound_follows_the_wound(wound_nurse, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole", began=30)
    assert open_facts(patient).get().side == "right"

    correct_wound(wound=first, side="left", reason="wrong foot", by=wound_nurse)
    assert open_facts(patient).get().side == "left"

    close_wound(wound=first, status="healed", closed_on=days_ago(3), by=wound_nurse)
    assert not open_facts(patient).exists()

    correct_wound(wound=first, status="open", closed_on=None, reason="not healed after all", by=wound_nurse)
    assert open_facts(patient).get().started_on == days_ago(30)


def test_a_fact_withdrawn_on_its_own_page_comes_back_with_the_next_change(wound_nurse, patient):
    first = wound(wound_nurse, patient, began=30)
    withdraw_limb_fact(fact=open_facts(patient).get(), reason="slip", by=wound_nurse)

    correct_wound(wound=first, cause="pressure", reason="seen again", by=wound_nurse)

    assert open_facts(patient).count() == 1


def test_a_correction_keeps_what_was_said_with_who_and_why(wound_nurse, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole")

    correct_wound(wound=first, place="toe_2_sole", reason="counted again", by=wound_nurse)

    said = list(WoundEntry.objects.filter(wound=first).order_by("pk"))
    assert [one.place for one in said] == ["toe_1_sole", "toe_2_sole"]
    assert (said[1].replaces, said[1].replaced_because) == (said[0], "counted again")


def test_a_wound_entered_in_error_leaves_no_episode_and_no_fact(wound_nurse, patient):
    first = wound(wound_nurse, patient)

    withdraw_wound(wound=first, reason="other person", by=wound_nurse)

    assert open_wounds(wound_nurse, patient) == ()
    assert not open_facts(patient).exists()
    assert Episode.objects.get().ended_how == "in_error"


@pytest.mark.parametrize(
    ("level", "toe", "place"),
    [
        ("toe", 1, "toe_1_sole"),
        ("ray", 2, "head_2"),
        ("transmetatarsal", None, "toe_5_top"),
        ("below_knee", None, "heel_under"),
    ],
)
def test_a_wound_on_a_lost_part_is_refused_with_the_reason(wound_nurse, patient, level, toe, place):
    record_limb_fact(
        patient=patient, side="right", kind="amputation", level=level, toe=toe, started_on=days_ago(60),
        source="letter", by=wound_nurse,
    )  # fmt: skip

    with pytest.raises(ValidationError) as refused:
        wound(wound_nurse, patient, f"right:{place}", began=10)

    assert "no such place" in refused.value.message_dict["place"][0]
    assert wound(wound_nurse, patient, f"left:{place}", began=10)
    assert wound(wound_nurse, patient, "right:stump", began=10)


def test_a_wound_from_before_the_amputation_is_taken(wound_nurse, patient):
    record_limb_fact(
        patient=patient, side="right", kind="amputation", level="toe", toe=1, started_on=days_ago(20),
        source="letter", by=wound_nurse,
    )  # fmt: skip

    first = wound(wound_nurse, patient, "right:toe_1_sole", began=40)
    entry = close_wound(wound=first, status="amputated", closed_on=days_ago(20), by=wound_nurse)

    assert entry.status == "amputated"


def test_an_episode_that_came_to_an_amputation_ends_when_its_wound_has_healed(wound_nurse, patient):
    first = wound(wound_nurse, patient, "right:toe_1_sole", began=100)
    assess(wound_nurse, first, ago=100)
    close_wound(wound=first, status="amputated", closed_on=days_ago(40), by=wound_nurse)
    assert Episode.objects.get().ended_on is None

    of_the_operation = wound(wound_nurse, patient, "right:stump", began=40)
    close_wound(wound=of_the_operation, status="healed", closed_on=days_ago(5), by=wound_nurse)

    episode = Episode.objects.get()
    assert episode.ended_on == days_ago(5)
    assert episode.healed_12w is False
    assert episode.healed_24w is True


def test_days_outside_the_wound_or_the_life_are_refused_at_their_field(wound_nurse, patient):
    with pytest.raises(ValidationError) as early:
        wound(wound_nurse, patient, began_on=patient.birth_date - timedelta(days=400))
    with pytest.raises(ValidationError) as late:
        wound(wound_nurse, patient, began=-2)
    first = wound(wound_nurse, patient, began=10)
    with pytest.raises(ValidationError) as healed_before:
        close_wound(wound=first, status="healed", closed_on=days_ago(11), by=wound_nurse)
    assess(wound_nurse, first, ago=3)
    with pytest.raises(ValidationError) as seen_open_after:
        close_wound(wound=first, status="healed", closed_on=days_ago(4), by=wound_nurse)

    assert "before this person was born" in early.value.message_dict["began_on"][0]
    assert "still to come" in late.value.message_dict["began_on"][0]
    assert "after this" in healed_before.value.message_dict["closed_on"][0]
    assert "seen open" in seen_open_after.value.message_dict["closed_on"][0]


def test_nothing_is_open_of_somebody_who_has_died(wound_nurse, patient):
    wound(wound_nurse, patient)
    died = {"died_on": days_ago(1), "revision": patient.revision}
    changed = change_patient(patient=patient, by=wound_nurse, **died)

    assert open_wounds(wound_nurse, changed) == ()
    with pytest.raises(ValidationError, match="died"):
        wound(wound_nurse, changed, "left:heel_back", began=0)


def test_somebody_lost_to_follow_up_is_followed_again_by_the_next_assessment(wound_nurse, patient):
    first = wound(wound_nurse, patient)
    episode = lose_episode(episode=first.episode, ended_on=today(), because="moved away", by=wound_nurse)
    assert episode.ended_how == "lost"

    assess(wound_nurse, first)

    episode.refresh_from_db()
    assert episode.ended_on is None
    assert len(open_wounds(wound_nurse, patient)) == 1


def test_only_the_interpreting_clinician_calls_a_foot_beyond_salvage(wound_nurse, reporter, patient):
    episode = wound(wound_nurse, patient).episode
    said = {"episode": episode, "side": "right", "holds": True, "because": "no artery to open"}

    with pytest.raises(PermissionDenied):
        judge_beyond_salvage(**said, by=wound_nurse)

    assert judge_beyond_salvage(**said, by=reporter).holds
