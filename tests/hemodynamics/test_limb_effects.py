"""What events do to later numbers (workflow 6): what leaves the sheet, what breaks, what warns."""

from datetime import date

import pytest

from exams.hemodynamics import (
    ANKLE_SITES,
    TOE_SITES,
    EventDate,
    EventKind,
    LimbEvent,
    Precision,
    Segment,
    Side,
    Site,
    breaks_between,
    cautions_between,
    limb_shown_first,
    limb_standing,
)

LEFT, RIGHT = Side.LEFT, Side.RIGHT
TODAY = date(2026, 6, 1)


def day(year, month=1, on=1):
    return EventDate(date(year, month, on))


def lost(level, *toes, side=LEFT, when=None):
    return LimbEvent(EventKind.AMPUTATION, when or day(2020), side, level=level, toes=toes)


def revascularised(*vessels, side=LEFT, when=None, **how):
    return LimbEvent(EventKind.REVASCULARISATION, when or day(2020), side, vessels=vessels, **how)


def standing(*events, side=LEFT, on=TODAY):
    return limb_standing(events, side, on)


def test_a_lost_hallux_leaves_the_sheet_and_the_second_toe_is_offered():
    found = standing(lost("toe", 1))

    assert set(found.lost) == {Site.TOE_1}
    assert found.next_toe is Site.TOE_2
    assert found.raises_foot_risk
    assert standing(lost("toe", 1), side=RIGHT).lost == {}


def test_before_its_day_an_amputation_has_taken_nothing():
    assert standing(lost("toe", 1), on=date(2019, 12, 31)).lost == {}


@pytest.mark.parametrize(
    ("level", "toes_gone", "ankle_gone", "cuffs_left"),
    [
        ("transmetatarsal", True, False, 5),
        ("midfoot", True, False, 5),
        ("syme", True, True, 4),
        ("below_knee", True, True, 3),
        ("through_knee", True, True, 3),
        ("above_knee", True, True, 1),
        ("hip", True, True, 0),
    ],
)
def test_each_level_takes_what_lies_below_it(level, toes_gone, ankle_gone, cuffs_left):
    found = standing(lost(level))

    assert all(found.is_lost(toe) for toe in TOE_SITES) is toes_gone
    assert all(found.is_lost(site) for site in ANKLE_SITES) is ankle_gone
    assert sum(not found.is_lost(cuff) for cuff in Segment) == cuffs_left
    assert found.next_toe is None


def test_the_limb_that_is_left_is_shown_first():
    assert limb_shown_first([lost("below_knee", side=RIGHT)], TODAY) is LEFT
    assert limb_shown_first([lost("below_knee", side=RIGHT), lost("hip")], TODAY) is RIGHT
    assert limb_shown_first([lost("transmetatarsal", side=RIGHT)], TODAY) is RIGHT


def test_the_last_revascularisation_is_the_baseline():
    first, second = revascularised("popliteal"), revascularised("pedal", when=day(2026, 5, 2))

    found = standing(second, first)

    assert found.baseline is second
    assert found.days_since_baseline == (30, 30)


def test_a_year_gives_fewest_and_most_days():
    found = standing(revascularised(when=EventDate(date(2025, 1, 1), Precision.YEAR)))

    assert found.days_since_baseline == (152, 516)


def test_a_revascularisation_between_two_exams_starts_anew_on_that_limb_only():
    event = revascularised("popliteal", approach="endovascular")
    days = (date(2019, 5, 1), date(2021, 5, 1))

    assert breaks_between([event], LEFT, ANKLE_SITES, *days) == (
        "LEFT endovascular revascularisation: popliteal, 1 Jan 2020 in between: a new baseline",
    )
    assert breaks_between([event], RIGHT, ANKLE_SITES, *days) == ()
    assert breaks_between([event], LEFT, ANKLE_SITES, date(2021, 5, 1), date(2022, 5, 1)) == ()


def test_one_known_only_to_the_year_of_both_exams_breaks_and_says_perhaps():
    event = revascularised(when=EventDate(date(2020, 1, 1), Precision.YEAR))

    assert breaks_between([event], LEFT, ANKLE_SITES, date(2020, 3, 1), date(2020, 9, 1)) == (
        "LEFT revascularisation, about 2020, perhaps in between: a new baseline",
    )


def test_a_lost_toe_ends_its_own_series_and_no_other():
    days = (date(2019, 5, 1), date(2021, 5, 1))

    assert breaks_between([lost("toe", 1)], LEFT, [Site.TOE_1], *days) == (
        "LEFT hallux amputation, 1 Jan 2020 in between: the earlier site is gone",
    )
    assert breaks_between([lost("toe", 5)], LEFT, [Site.TOE_1], *days) == ()
    assert breaks_between([lost("transmetatarsal")], LEFT, ANKLE_SITES, *days) == ()


@pytest.mark.parametrize(
    ("event", "warned", "words"),
    [
        (
            revascularised("common_femoral", "posterior_tibial", approach="open", device="vein_graft"),
            set(Segment),
            "bypass graft under or near this cuff",
        ),
        (
            revascularised("superficial_femoral", device="stent", approach="endovascular"),
            {Segment.THIGH, Segment.HIGH_THIGH, Segment.LOW_THIGH},
            "follow the local rule",
        ),
        (
            revascularised("common_femoral", approach="open", device="patch"),
            {Segment.THIGH, Segment.HIGH_THIGH},
            "open repair under or near this cuff",
        ),
        (revascularised(approach="open"), set(Segment), "ask the surgeon first"),
        (revascularised("pedal"), {Segment.ANKLE}, "perhaps a graft under or near this cuff"),
        (revascularised("popliteal", approach="endovascular"), set(), ""),
        (revascularised("aortoiliac", approach="open", device="prosthetic_graft"), set(), ""),
    ],
)
def test_a_cuff_over_a_graft_an_open_repair_or_a_stent_warns(event, warned, words):
    found = standing(event).cuff_warnings

    assert set(found) == warned
    assert all(words in said for said in found.values())


def test_a_fistula_locks_the_arm_of_its_side_while_it_is_there():
    fistula = LimbEvent(EventKind.FISTULA, day(2020), LEFT, until=day(2022))

    assert standing(fistula, on=date(2021, 1, 1)).arm_locked_by is fistula
    assert standing(fistula).arm_locked_by is None
    assert standing(fistula, side=RIGHT, on=date(2021, 1, 1)).arm_locked_by is None


def test_an_infection_raises_urgency_while_it_lasts_and_dialysis_is_said_for_good():
    infection = LimbEvent(EventKind.INFECTION, day(2020), LEFT, until=day(2020, 3))
    dialysis = LimbEvent(EventKind.DIALYSIS_START, day(2020))

    assert standing(infection, on=date(2020, 2, 1)).raises_urgency
    assert not standing(infection).raises_urgency
    assert "the toe says more" in standing(dialysis, side=RIGHT).cautions[0]


def test_what_held_at_one_exam_only_is_a_caution_and_no_break():
    swollen = LimbEvent(EventKind.OEDEMA, day(2020), LEFT, until=day(2020, 3))
    days = (date(2020, 2, 1), date(2021, 2, 1))

    assert breaks_between([swollen], LEFT, [Site.TOE_1], *days) == ()
    assert cautions_between([swollen], LEFT, [Site.TOE_1], *days) == (
        "at one exam only, swollen: check how the cuff fits",
    )
    assert cautions_between([swollen], RIGHT, [Site.TOE_1], *days) == ()
