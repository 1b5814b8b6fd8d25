"""What the patient page says first of a limb."""

from dataclasses import replace
from datetime import date

import pytest

from exams.hemodynamics import AmputationLevel, EventDate, EventKind, LimbEvent, Outcome, Side, SiteReading
from reports.timeline.glance import how_long_ago, seen_on
from reports.timeline.years import Event
from tests.timeline.records import foot, glance_at, record, stands

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("on", "words"),
    [
        (date(2026, 11, 25), "today"),
        (date(2026, 11, 24), "yesterday"),
        (date(2026, 11, 13), "12 days ago"),
        (date(2026, 9, 26), "60 days ago"),
        (date(2026, 9, 25), "2 months ago"),
        (date(2025, 11, 26), "11 months ago"),
        (date(2024, 11, 26), "23 months ago"),
        (date(2024, 11, 25), "2 years ago"),
        (date(2018, 3, 1), "8 years ago"),
    ],
)
def test_an_age_is_told_in_words_rounded_down(on, words):
    assert how_long_ago(on, date(2026, 11, 25)) == words


def test_the_conditions_are_those_of_the_limb_and_name_rest_even_where_it_is_not_known():
    known = replace(
        record(1, date(2026, 11, 20), foot(Side.RIGHT)),
        conditions=(
            ("position", "lying flat"),
            ("RIGHT toe skin", "30.5 °C"),
            ("LEFT toe skin", "24 °C"),
            ("arm measured first", "RIGHT"),
            ("cuffs and sensor cleaned", "yes"),
        ),
        rest_minutes=11,
    )
    unknown = replace(known, conditions=(), rest_minutes=None)

    assert glance(known).conditions == "position: lying flat; rest: 11 minutes; toe skin: 30.5 °C"
    assert glance(unknown).conditions == "position: not recorded; rest: not recorded; toe skin: not recorded"


def test_an_urgent_limb_opens_with_the_call_to_make_until_the_slip_is_closed():
    urgent = record(1, date(2026, 11, 20), foot(Side.RIGHT, toe=20, ankle=45))

    to_be_told, told = glance(urgent, to_be_told=True).sentence, glance(urgent).sentence

    assert to_be_told.startswith("Severe ischaemia at this exam. A person must be told. Arterial disease")
    assert told.startswith("Severe ischaemia at this exam. The hand-over slip is closed. Arterial disease")


def glance(one, **more):
    return glance_at([one], Side.RIGHT, TODAY, **more)


def test_an_exam_that_obtained_nothing_does_not_hide_the_one_before():
    nothing = SiteReading(Outcome.NOT_OBTAINED, reason="dressing not removed")
    before = record(1, date(2026, 9, 1), foot(Side.RIGHT, toe=60))
    after = record(2, date(2026, 11, 20), foot(Side.RIGHT, ankle=nothing, toe=nothing))

    glance = glance_at([before, after], Side.RIGHT, TODAY)

    assert glance.record.exam_id == before.exam_id
    assert all("20 Nov 2026" in line.missing for line in glance.lines)


def test_what_was_done_to_a_limb_after_the_exam_is_said_before_what_the_exam_found():
    before = record(1, date(2026, 9, 1), foot(Side.RIGHT, toe=60))
    treated, lost = (
        Event(core.kind, core.words, date(2026, 11, 3), None, once=True, core=core)
        for core in (
            LimbEvent(EventKind.REVASCULARISATION, EventDate(date(2026, 10, 3)), Side.RIGHT),
            LimbEvent(
                EventKind.AMPUTATION,
                EventDate(date(2026, 11, 3)),
                Side.RIGHT,
                level=AmputationLevel.BELOW_KNEE,
            ),
        )
    )
    stand = stands([before], TODAY)[0]

    def said(*events, on=TODAY):
        return seen_on(stand, on, recordings={}, events=events).sentence

    assert said(treated).startswith(
        "Since this exam: revascularisation, 3 Oct 2026. What follows is from before it: "
    )
    assert "measure again. Toe reduced although" in said(treated)
    assert "below-knee amputation, 3 Nov 2026. What follows is from before it. " in said(treated, lost)
    assert said(treated, lost, on=date(2026, 9, 30)) == said()
