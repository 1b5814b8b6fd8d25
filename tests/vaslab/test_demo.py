"""The demonstration tells its stories through the services, whole, and the same every time."""

from dataclasses import replace
from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import call_command
from django.test import TestCase

from access import clock
from access.verify import verify_all
from exams.followup.models import Recall, Referral
from exams.hemodynamics import PAIRS_NEEDED, TraceReading, simulate_trace
from exams.patients.models import Patient
from exams.traces.models import Analysis, ReaderMark, Trace, TraceSeen
from exams.visits.models import Exam, HandOver, Reading, Result
from exams.visits.typed import read_reading
from vaslab.demo import recordings, tell
from vaslab.demo.invented import IN_THE_STUDY, STUDIED, invented, one_of_each
from vaslab.demo.patterns import COURSES
from vaslab.demo.stories import STORIES
from vaslab.demo.stories.identity import TEASEL_AGAIN
from vaslab.demo.stories.ordinary import SLUICE, TEASEL
from vaslab.demo.written import as_typed, place_of, places

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)

# Some of the stories, so that every run stays quick; the whole is told by `./run demo`.
CHOSEN = {"Watermint", "Eelby", "Kingcup", "Fescue", "Galingale", "Cottongrass", "Turnstone"}
TWICE = (replace(TEASEL, visits=TEASEL.visits[-1:]), TEASEL_AGAIN)
# Overdue for recall; without the exam that was stopped, whose findings are none of a measured one.
OVERDUE = replace(SLUICE, visits=SLUICE.visits[:2])
# Of every course one person with their last visits: what the services refuse would be seen here.
OF_EACH = tuple(replace(one, visits=one.visits[-2:]) for one in one_of_each())
INVENTED = invented()
ALL = (*STORIES, *INVENTED)


def test_one_clinic_measured_enough_feet_again_to_know_its_own_noise_of_a_toe():
    repeated = [one.visits[-2:] for one in INVENTED if one.visits and one.visits[-1].repeats]
    pairs = [(before, after) for before, after in repeated if 0 < before.weeks - after.weeks <= 3]
    feet = [foot for _, after in pairs for foot in (after.right, after.left) if " t" in f" {foot}"]

    assert len(pairs) == len(repeated) == IN_THE_STUDY
    assert len(feet) >= PAIRS_NEEDED
    assert {one.clinic for one in INVENTED if one.visits[-1].repeats} == {STUDIED}


def of(family: str) -> Patient:
    return Patient.objects.get(family_name=family)


def traces_of(family: str) -> list[Trace]:
    return list(Trace.objects.filter(exam__patient=of(family)).order_by("pk"))


class Told(TestCase):
    """Told once; what a test changes of it is taken back after that test."""

    @classmethod
    def setUpTestData(cls):
        chosen = (*(one for one in STORIES if one.family in CHOSEN), *TWICE, OVERDUE, *OF_EACH)
        with clock.at(NOW):
            tell.tell_everything(NOW, lambda step: None, chosen)

    def test_the_stories_are_told_on_the_days_they_happened(self):
        days = [
            exam.booked_for.date().isoformat()
            for exam in Exam.objects.filter(patient=of("Eelby")).order_by("pk")
        ]

        assert days == ["2021-02-24", "2023-04-05", "2025-01-08", "2026-08-12"]

    def test_the_arm_with_the_fistula_is_never_inflated_once_it_is_known(self):
        left_arms = Reading.objects.filter(exam__patient=of("Eelby"), side="left", site="arm").order_by("pk")

        assert [row.outcome for row in left_arms] == [
            "pressure",
            "not_obtained",
            "not_obtained",
            "not_obtained",
        ]

    def test_a_foot_that_lost_its_signal_was_handed_over_and_is_closed(self):
        slips = HandOver.objects.filter(exam__patient=of("Kingcup"))

        assert {slip.told_name for slip in slips} == {"Dr Rowan Staithe"}
        assert all(slip.closed_at for slip in slips)

    def test_follow_up_is_told_too(self):
        referral = Referral.objects.get(patient=of("Watermint"))
        recall = Recall.objects.get(patient=of("Sluice"), kind="risk")

        assert (referral.state, referral.urgency, referral.urgency_proposed) == ("sent", "at_once", "at_once")
        assert recall.due_by < NOW.date()
        assert recall.attempts.count() == 4
        assert not Recall.objects.filter(patient=of("Eelby"), ended_at=None).exclude(kind="risk").exists()

    def test_only_the_slip_of_today_is_still_open(self):
        slip = HandOver.objects.get(closed_at=None)

        assert slip.exam.patient == of("Watermint")

        assert slip.closed_at is None
        assert slip.limb == "left"

    def test_a_leaking_cuff_is_refused_with_its_reason_and_the_toe_read_from_the_next_recording(self):
        leaked, good, again = traces_of("Fescue")

        assert not leaked.analyses.get().usable
        refused = leaked.marks.get()
        assert TraceSeen.objects.filter(trace=leaked, person=refused.marked_by).exists()
        assert (refused.verdict, refused.reading) == ("repeat", None)
        assert refused.reason.startswith("pulses while occluded")
        assert good.recorded_at > leaked.recorded_at
        assert [str(one.marks.get().reading.pressure_mmhg) for one in (good, again)] == ["62.0", "64.0"]

    def test_two_readers_disagree_and_both_marks_are_kept_the_second_made_blind(self):
        first, second = ReaderMark.objects.filter(trace__exam__patient=of("Galingale")).order_by("pk")

        assert (first.blind, second.blind) == (False, True)
        assert first.marked_by != second.marked_by
        assert (first.pressure_mmhg, second.pressure_mmhg) == (46, 41)
        assert first.reading.pressure_mmhg == 46
        seen = {one.person_id: one.first_seen_at for one in TraceSeen.objects.filter(trace=first.trace)}
        assert seen[second.marked_by_id] >= second.marked_at

    def test_an_irregular_rhythm_is_flagged_and_its_other_toe_waits_for_a_reader(self):
        right, left = traces_of("Cottongrass")

        flags = {one.code for one in TraceReading.from_json(right.analyses.get().reading).flags}
        assert "irregular_rhythm" in flags
        assert left.analyses.exists()
        assert not left.marks.exists()
        assert left.exam.state == "measuring"

    def test_an_ankle_normal_at_rest_falls_after_exercise(self):
        walked = Result.objects.filter(exam__patient=of("Turnstone"), limb="right")

        at_rest = walked.filter(measure="ankle_brachial_index").earliest("exam")
        assert at_rest.band == "NORMAL"
        assert walked.filter(measure="exercise_drop").earliest("exam").band == "POSITIVE"

    def test_every_measured_exam_has_findings_and_the_trail_is_whole(self):
        measured = Exam.objects.filter(state__in=["measuring", "measured", "reported"])

        assert measured.count() > 2 * len(OF_EACH)
        assert Result.objects.values("exam").distinct().count() == measured.count()
        assert all(chain.whole for chain in verify_all({}))

    def test_a_person_registered_twice_is_one_record_with_the_exams_of_both(self):
        assert of("Teasle").merged_into == of("Teasel")
        assert of("Teasel").exams.count() == 2

    def test_a_second_start_adds_nothing(self):
        kept = [one.objects.count() for one in (Patient, Exam, Reading, Trace, Analysis, ReaderMark)]

        call_command("demo", stdout=StringIO())

        assert [one.objects.count() for one in (Patient, Exam, Reading, Trace, Analysis, ReaderMark)] == kept


def test_every_reading_in_the_stories_can_be_typed_at_the_sheet():
    for story in ALL:
        for visit in story.visits:
            for place, typed in places(visit):
                assert read_reading(as_typed(typed), place.site) is not None


def test_about_sixty_people_are_told_of_in_four_hundred_exams_over_eight_years_at_both_clinics():
    weeks = [visit.weeks for story in ALL for visit in story.visits]

    assert 55 <= len(ALL) <= 65
    assert 380 <= len(weeks) <= 440
    assert max(weeks) > 7.5 * 52
    assert {story.clinic for story in INVENTED} == {"Alder House", "Lock Street"}
    assert len(INVENTED) == sum(COURSES.values())


def test_the_invented_people_are_the_same_every_time_and_nobody_is_taken_for_another():
    assert invented() == INVENTED
    for said in ("number", "family", "telephone"):
        assert len({getattr(story, said) for story in ALL}) >= len(ALL) - 1  # Cicely Teasel came twice
    assert len({story.born for story in INVENTED}) == len(INVENTED)


def test_no_toe_is_told_of_once_it_is_amputated():
    for story in INVENTED:
        for loss in (fact for fact in story.facts if fact.kind == "amputation"):
            after = [visit for visit in story.visits if visit.weeks < loss.weeks]
            assert after
            assert all(" t1 " not in getattr(visit, loss.side) for visit in after)


RECORDED = [
    pytest.param(visit, one, id=f"{story.family} {visit.weeks} weeks ago, {one.place}")
    for story in STORIES
    for visit in story.visits
    for one in visit.recorded
    if not one.refused
]


@pytest.mark.parametrize(("visit", "told_so"), RECORDED)
def test_a_recording_holds_the_pressure_its_story_tells(visit, told_so):
    reading = dict(places(visit)).get(place_of(told_so))

    made = simulate_trace(**recordings.made_of(told_so, visit.technique, reading))

    assert made.ideal_mmhg == pytest.approx(int(reading or told_so.systolic), abs=2)


def test_the_toe_that_was_reopened_was_recorded_before_and_after():
    dunnock = next(one for one in STORIES if one.family == "Dunnock")
    before, after = [visit for visit in dunnock.visits if visit.recorded]

    assert before.indication == "foot_ulcer"
    assert after.indication == "after_revascularisation"


def test_short_toes_are_recorded_with_one_cuff():
    bulrush = next(one for one in STORIES if one.family == "Bulrush")

    assert {visit.technique for visit in bulrush.visits if visit.recorded} == {"one_cuff_hand"}
