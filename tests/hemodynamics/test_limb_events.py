"""What an event of a limb is, how well its date is known, and which events cannot be."""

from datetime import date

import pytest

from exams.hemodynamics import (
    AmputationLevel,
    EventDate,
    EventKind,
    InputError,
    LimbEvent,
    Precision,
    Side,
    check_event,
    refusal_words,
)


def on(year, month=1, day=1, precision=Precision.DAY):
    return EventDate(date(year, month, day), precision)


def about(year):
    return on(year, precision=Precision.YEAR)


def lost(level, when, *toes, side=Side.LEFT):
    return LimbEvent(EventKind.AMPUTATION, when, side, level=level, toes=toes)


@pytest.mark.parametrize(
    ("when", "words", "earliest", "latest"),
    [
        (on(2019, 11, 3), "3 Nov 2019", date(2019, 11, 3), date(2019, 11, 3)),
        (on(2020, 2, 9, Precision.MONTH), "Feb 2020", date(2020, 2, 1), date(2020, 2, 29)),
        (about(2019), "about 2019", date(2019, 1, 1), date(2019, 12, 31)),
    ],
)
def test_a_date_says_how_well_it_is_known(when, words, earliest, latest):
    assert (when.words, when.earliest, when.latest) == (words, earliest, latest)


def test_an_event_is_said_with_its_side():
    assert lost("toe", on(2020), 1).words == "LEFT hallux amputation"
    assert lost("ray", on(2020), 2).words == "LEFT second toe ray amputation"
    assert lost("below_knee", about(2019)).words_dated == "LEFT below-knee amputation, about 2019"
    bypass = LimbEvent(
        EventKind.REVASCULARISATION,
        on(2020),
        Side.RIGHT,
        approach="open",
        vessels=("common_femoral", "pedal"),
    )
    assert bypass.words == "RIGHT open revascularisation: common or deep femoral, arteries of the foot"
    assert LimbEvent("dialysis", on(2020)).words == "dialysis started"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"kind": "amputation", "level": "toe", "toes": (1,)}, "event.side_missing"),
        ({"kind": "arrhythmia", "side": "left"}, "event.side_unexpected"),
        ({"kind": "amputation", "side": "left"}, "event.level_missing"),
        ({"kind": "amputation", "side": "left", "level": "ray"}, "event.toes_missing"),
        ({"kind": "amputation", "side": "left", "level": "midfoot", "toes": (1,)}, "event.unexpected"),
        ({"kind": "amputation", "side": "left", "level": "toe", "toes": (6,)}, "event.unexpected"),
        ({"kind": "oedema", "side": "left", "vessels": ("popliteal",)}, "event.unexpected"),
        ({"kind": "revascularisation", "until": on(2021)}, "event.unexpected"),
        ({"kind": "foot_infection", "side": "left", "until": on(2019)}, "event.ends_before_it_starts"),
    ],
)
def test_an_event_that_makes_no_sense_is_refused_at_its_field(fields, code):
    with pytest.raises(InputError) as refused:
        LimbEvent(on=on(2020), **fields)

    assert refused.value.code == code
    assert refusal_words(refused.value)


@pytest.mark.parametrize(
    ("when", "said"),
    [
        (on(1949, 12, 31), "31 Dec 1949 is before the patient was born (1 Jan 1950)."),
        (on(2021, 1, 2), "2 Jan 2021 is after the patient died (1 Jan 2021)."),
        (on(2030), "1 Jan 2030 has not come yet."),
    ],
)
def test_an_event_outside_a_life_is_refused(when, said):
    event = LimbEvent(EventKind.OEDEMA, when, Side.LEFT)
    died = date(2021, 1, 1) if when.on.year < 2030 else None

    with pytest.raises(InputError) as refused:
        check_event(event, born=date(1950, 1, 1), died=died, today=date(2026, 1, 1))

    assert refused.value.field == "on"
    assert refusal_words(refused.value) == said


def test_a_year_that_holds_a_possible_day_is_taken():
    check_event(
        LimbEvent(EventKind.OEDEMA, on(1950, precision=Precision.YEAR), Side.LEFT), born=date(1950, 6, 1)
    )
    check_event(LimbEvent(EventKind.OEDEMA, about(2021), Side.LEFT), died=date(2021, 6, 1))


@pytest.mark.parametrize(
    ("event", "other", "code"),
    [
        (lost("toe", on(2021), 1), lost("toe", on(2020), 1), "event.already_lost"),
        (lost("toe", on(2021), 1, 2), lost("toe", on(2020), 2, 3), "event.already_lost"),
        (lost("toe", on(2021), 2), lost("transmetatarsal", on(2020)), "event.already_lost"),
        (lost("toe", on(2020), 2), lost("transmetatarsal", on(2020)), "event.already_lost"),
        (lost("ray", on(2021), 2), lost("below_knee", about(2010)), "event.already_lost"),
        (lost("below_knee", on(2019)), lost("toe", on(2021), 1), "event.lost_again_later"),
        (lost("midfoot", on(2019)), lost("transmetatarsal", on(2021)), "event.lost_again_later"),
    ],
)
def test_a_part_cannot_be_lost_twice(event, other, code):
    with pytest.raises(InputError) as refused:
        check_event(event, [other])

    assert refused.value.code == code
    assert other.words_dated in refusal_words(refused.value)


@pytest.mark.parametrize(
    ("event", "other"),
    [
        (lost("ray", on(2021), 1), lost("toe", on(2020), 1)),
        (lost("transmetatarsal", on(2021)), lost("ray", on(2020), 1)),
        (lost("above_knee", on(2021)), lost("below_knee", on(2020))),
        (lost("toe", on(2021), 1, side=Side.RIGHT), lost("below_knee", on(2020))),
        (lost("toe", on(2021), 1), lost("toe", on(2020), 2)),
        (lost("toe", on(2020, 6, 1), 1), lost("below_knee", about(2020))),
    ],
)
def test_a_higher_amputation_may_follow_a_lower_one_and_a_doubtful_order_is_taken(event, other):
    check_event(event, [other])


def test_only_above_the_ankle_is_major():
    assert [level for level in AmputationLevel if level.is_major] == [
        "below_knee", "through_knee", "above_knee", "hip"
    ]  # fmt: skip
