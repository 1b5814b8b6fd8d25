"""Whether a wound can be where it was placed: not on a part of the foot that is gone."""

from __future__ import annotations

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.limb_effects import LimbStanding
from exams.hemodynamics.limb_events import LEVELS, AmputationLevel, LimbEvent
from exams.hemodynamics.measured import TOE_SITES
from exams.hemodynamics.wounds.assessed import Region

# The lowest amputation that takes the whole of a region; a wound of the stump lies in what is left.
TAKEN_FROM = {
    Region.FOREFOOT: AmputationLevel.MIDFOOT,
    Region.MIDFOOT: AmputationLevel.SYME,
    Region.HINDFOOT: AmputationLevel.BELOW_KNEE,
    Region.HEEL: AmputationLevel.BELOW_KNEE,
    Region.LEG: AmputationLevel.THROUGH_KNEE,
}


def check_place(region: Region, toe: int | None, standing: LimbStanding) -> None:
    """Refuse a wound on a toe or region that an amputation has taken.

    Raises
    ------
    InputError
        ``wound.site_lost``; its limit is the event in words, with its date.
    """
    lost_toe = standing.lost.get(TOE_SITES[toe - 1]) if toe is not None else None
    event = lost_toe or _taken(Region(region), standing)
    if event is not None:
        what = "toe" if lost_toe else "region"
        raise InputError("wound.site_lost", what, toe if lost_toe else region, event.words_dated)


def _taken(region: Region, standing: LimbStanding) -> LimbEvent | None:
    reaching = LEVELS.index(TAKEN_FROM[region])
    events = (event for event in standing.lost.values() if event.level is not None)
    return next((one for one in events if one.level and LEVELS.index(one.level) >= reaching), None)
