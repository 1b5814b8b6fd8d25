"""Where on a foot a wound can be, and which amputation has taken that place. No table stands here.

The codes are stored. What an amputation takes follows from its level (the same reading as
``exams.hemodynamics.LOST_WITH``): a place is gone where nothing of it is left to have a wound.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from exams.hemodynamics import AmputationLevel, EventKind, LimbEvent

_LEVELS = tuple(AmputationLevel)
_TOE_WORDS = ("hallux", "second toe", "third toe", "fourth toe", "fifth toe")
_HEAD_WORDS = ("first", "second", "third", "fourth", "fifth")

# The values of the core's ``Region``.
FOREFOOT, MIDFOOT, HINDFOOT, HEEL, LEG = "forefoot", "midfoot", "hindfoot", "heel", "leg"
SOLE, TOP = "sole", "top"


@dataclass(frozen=True)
class Place:
    """One place of one foot.

    ``part`` is forefoot, midfoot, hindfoot, heel or leg; ``view`` the picture it is drawn on ("" for none);
    ``toe`` the toe or ray it belongs to. ``gone_from`` is the lowest amputation that takes it whole.
    """

    code: str
    words: str
    part: str
    view: str
    gone_from: AmputationLevel | None
    toe: int | None = None
    gone_with: tuple[AmputationLevel, ...] = ()


def _toe(number: int, view: str, words: str) -> Place:
    return Place(
        f"toe_{number}_{view}",
        f"{_TOE_WORDS[number - 1]}, {words}",
        FOREFOOT,
        view,
        AmputationLevel.TRANSMETATARSAL,
        number,
        (AmputationLevel.TOE, AmputationLevel.RAY),
    )


def _head(number: int) -> Place:
    return Place(
        f"head_{number}",
        f"under the {_HEAD_WORDS[number - 1]} metatarsal head",
        FOREFOOT,
        SOLE,
        AmputationLevel.TRANSMETATARSAL,
        number,
        (AmputationLevel.RAY,),
    )


STUMP = "stump"
PLACES = (
    *(_toe(number, SOLE, "tip or underside") for number in range(1, 6)),
    *(_head(number) for number in range(1, 6)),
    Place("arch_inner", "sole, inner side of the midfoot", MIDFOOT, SOLE, AmputationLevel.MIDFOOT),
    Place("arch_outer", "sole, outer side of the midfoot", MIDFOOT, SOLE, AmputationLevel.MIDFOOT),
    Place("heel_under", "under the heel", HEEL, SOLE, AmputationLevel.SYME),
    *(_toe(number, TOP, "top or side") for number in range(1, 6)),
    Place("fore_top", "top of the forefoot", FOREFOOT, TOP, AmputationLevel.TRANSMETATARSAL),
    Place("mid_top", "top of the midfoot", MIDFOOT, TOP, AmputationLevel.MIDFOOT),
    Place("ankle_inner", "inner ankle", HINDFOOT, TOP, AmputationLevel.SYME),
    Place("ankle_outer", "outer ankle", HINDFOOT, TOP, AmputationLevel.SYME),
    Place("heel_back", "back of the heel", HEEL, TOP, AmputationLevel.SYME),
    Place("leg_low", "lower leg", LEG, TOP, AmputationLevel.THROUGH_KNEE),
    Place(STUMP, "stump or wound of an amputation", FOREFOOT, "", None),
)
PLACE_OF = {place.code: place for place in PLACES}
CHOICES = [(place.code, place.words) for place in PLACES]


def taken_by(place: Place, side: str, events: Iterable[LimbEvent], on: date) -> LimbEvent | None:
    """The amputation that had certainly taken ``place`` of that side by ``on``; None where it is there."""
    for event in events:
        if event.kind is not EventKind.AMPUTATION or event.side is None or event.side.value != side:
            continue
        if event.level is None or event.on.latest > on:
            continue
        alone = event.level in place.gone_with and place.toe in event.toes
        above = (
            place.gone_from is not None
            and not event.level.names_toes
            and _LEVELS.index(event.level) >= _LEVELS.index(place.gone_from)
        )
        if alone or above:
            return event
    return None
