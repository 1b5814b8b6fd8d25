"""Which exams may be compared, and when a change is more than noise (clinical reference 7)."""

from datetime import date
from decimal import Decimal

import pytest

from exams.hemodynamics import (
    ANKLE_SITES,
    Conditions,
    EventDate,
    EventKind,
    InputError,
    LimbEvent,
    Side,
    breaks_between,
    change_between,
    comparability,
    load_criteria,
)
from tests.hemodynamics.readings import read

ABI, TBI, TOE = "ankle_brachial_index", "toe_brachial_index", "toe_pressure"
BASE = "arm 140, dp 120, pt 110, toe 60"


@pytest.mark.parametrize(
    ("later", "measure", "reason"),
    [
        (
            {"right": BASE, "toe_technique": "one_cuff_hand"},
            TBI,
            "another technique: light sensor, two cuffs before",
        ),
        (
            {"right": "arm 140, dp 120, pt 110, toe not_done, toe2 60"},
            TBI,
            "measured at the hallux before and at the",
        ),
        (
            {"right": "dp 120, pt 110, toe 60", "left": "arm 140"},
            ABI,
            "RIGHT arm only before, LEFT arm only now",
        ),
        ({"right": BASE, "left": "arm 130"}, ABI, "RIGHT arm only before, both arms now"),
        (
            {"right": "arm 140, dp 220, pt 110, toe 60"},
            ABI,
            "could not be measured reliably at the later exam",
        ),
        (
            {"right": "arm 140, dp not_occludable, pt 110"},
            ABI,
            "could not be measured reliably at the later exam",
        ),
        ({"right": BASE, "right_toe_celsius": 25}, TBI, "the toe was cold at one of the exams"),
        ({"right": BASE, "right_toe_celsius": 25}, TOE, "the toe was cold at one of the exams"),
        ({"right": "arm 140, dp 120, toe 60"}, ABI, "only one ankle artery was measured at one of the exams"),
        ({"right": "arm 140, dp 120, pt 110"}, TOE, "no value at the later exam: toe pressure not measured"),
        (
            {"right": BASE, "conditions": Conditions(position="sitting")},
            TOE,
            "another position of the patient",
        ),
    ],
)
def test_what_makes_two_exams_not_comparable_is_said(later, measure, reason):
    found = comparability(read(BASE), read(**later), Side.RIGHT, measure)

    assert len(found) == 1
    assert reason in found[0]


def test_the_same_way_of_measuring_is_comparable():
    for_all = [
        comparability(read(BASE), read("arm 150, dp 100, pt 90, toe 40"), Side.RIGHT, m)
        for m in (ABI, TBI, TOE)
    ]

    assert for_all == [(), (), ()]


def test_a_revascularisation_in_between_starts_anew():
    bypass = LimbEvent(EventKind.REVASCULARISATION, EventDate(date(2020, 1, 1)), Side.RIGHT)
    breaks = breaks_between([bypass], Side.RIGHT, ANKLE_SITES, date(2019, 6, 1), date(2020, 6, 1))

    found = comparability(read(BASE), read(BASE), Side.RIGHT, ABI, breaks=breaks)

    assert found == ("RIGHT revascularisation, 1 Jan 2020 in between: a new baseline",)


def test_other_criteria_with_the_same_rule_are_comparable_and_another_numerator_is_not():
    survey = read("arm 140, pt 120", criteria="population-survey")

    assert comparability(read(BASE), read(BASE, criteria="older-laboratory"), Side.RIGHT, ABI) == ()
    assert any(
        "posterior tibial artery" in reason for reason in comparability(read(BASE), survey, Side.RIGHT, ABI)
    )


@pytest.mark.parametrize(
    ("measure", "earlier", "later", "technique", "band"),
    [
        (ABI, "dp 100", "dp 85", "two_cuffs", "BEYOND_NOISE"),
        (ABI, "dp 100", "dp 85.5", "two_cuffs", "WITHIN_NOISE"),
        (TBI, "toe 70", "toe 45", "two_cuffs", "BEYOND_NOISE"),
        (TBI, "toe 70", "toe 45.5", "two_cuffs", "WITHIN_NOISE"),
        (TBI, "toe 70", "toe 52", "oscillometric", "BEYOND_NOISE"),
        (TOE, "toe 60", "toe 34", "two_cuffs", "BEYOND_NOISE"),
        (TOE, "toe 60", "toe 34.5", "two_cuffs", "WITHIN_NOISE"),
        (TOE, "toe 60", "toe 42", "oscillometric", "BEYOND_NOISE"),
        (TOE, "toe 60", "toe 42.5", "oscillometric", "WITHIN_NOISE"),
    ],
)
def test_a_change_counts_from_its_published_limit(measure, earlier, later, technique, band):
    """Clinical reference 7: index 0.15; toe 26 by hand, 18 automated; toe index 0.25 and 0.18."""
    exams = [read(f"arm 100, {words}", toe_technique=technique) for words in (earlier, later)]

    assert change_between(*exams, Side.RIGHT, measure, load_criteria("acc-aha-2024")).band == band


def test_a_change_is_taken_from_exact_ratios_not_from_what_is_shown():
    """0.905 to 0.7575 is shown as 0.91 to 0.76 and differs by 0.1475, which is below 0.15."""
    exams = [read("arm 200, dp 181"), read("arm 200, dp 151.5")]

    assert change_between(*exams, Side.RIGHT, ABI, load_criteria("acc-aha-2024")).band == "WITHIN_NOISE"


def test_a_change_is_said_with_its_noise_band():
    exams = [read("arm 126, dp 114"), read("arm 126, dp 95")]

    found = change_between(*exams, Side.RIGHT, ABI, load_criteria("acc-aha-2024"))

    assert (found.interval.low, found.interval.high) == (Decimal("-0.30"), Decimal("0.00"))
    assert found.sentence == (
        "RIGHT ankle-brachial index 0.90 to 0.75: down 0.15, more than repeat measurements differ by (0.15)."
    )


def test_what_may_not_be_compared_has_no_difference():
    found = change_between(read(BASE), read("arm 140"), Side.RIGHT, TOE, load_criteria("acc-aha-2024"))

    assert found.band == "NOT_COMPARABLE"
    assert found.shown == "not comparable"
    assert "no value at the later exam" in found.sentence


def test_a_measure_that_is_not_followed_is_refused():
    with pytest.raises(InputError) as refused:
        comparability(read(), read(), Side.RIGHT, "arm_pressure")

    assert refused.value.code == "change.unknown_measure"
