"""What each event of a limb does to later numbers: the one place.

Source: workflow 6 and 2.3 (design; clinical direction from memory). ``EFFECTS``, ``LOST_WITH`` and
``CUFFS_OVER`` are the table; ``limb_standing`` is how the limb stands on a day,
``breaks_between`` and ``cautions_between`` what lies between two days. A date known only to a month or a year
counts wherever it may fall: a false break costs a comparison, a missed one a wrong trend.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from exams.hemodynamics.limb_events import (
    AmputationLevel,
    Approach,
    Device,
    EventKind,
    LimbEvent,
    Vessel,
)
from exams.hemodynamics.measured import ANKLE_SITES, TOE_SITES, Segment, Side, Site


@dataclass(frozen=True, slots=True)
class Effect:
    """What one kind of event does to later numbers.

    ``new_baseline``: no earlier value is compared with a later one. ``caution``: said beside a value taken
    while it lasts (after it, where ``for_good``), "" for none. ``sites`` are those it is said at.
    """

    new_baseline: bool = False
    ends_lost_sites: bool = False
    locks_arm: bool = False
    raises_urgency: bool = False
    caution: str = ""
    for_good: bool = False
    sites: tuple[Site, ...] = ()


LEG_SITES = (*ANKLE_SITES, *TOE_SITES)
EFFECTS: Mapping[EventKind, Effect] = {
    EventKind.REVASCULARISATION: Effect(new_baseline=True),
    EventKind.AMPUTATION: Effect(ends_lost_sites=True),
    EventKind.INFECTION: Effect(
        raises_urgency=True,
        caution="infected foot: swelling may distort what the cuff reads",
        sites=LEG_SITES,
    ),
    EventKind.FISTULA: Effect(locks_arm=True),
    EventKind.DIALYSIS_START: Effect(
        caution="on dialysis: expect stiff ankle arteries, the toe says more",
        for_good=True,
        sites=ANKLE_SITES,
    ),
    EventKind.ARRHYTHMIA: Effect(
        caution="irregular heartbeat: single readings vary, the index means less", sites=LEG_SITES
    ),
    EventKind.CHARCOT: Effect(caution="Charcot foot: check how the cuff fits", sites=LEG_SITES),
    EventKind.OEDEMA: Effect(caution="swollen: check how the cuff fits", sites=LEG_SITES),
}

_ALL_TOES = frozenset(TOE_SITES)
_FOOT = _ALL_TOES | frozenset(ANKLE_SITES)
# Sites and cuff places that are gone. The wide thigh cuff needs the whole thigh; a below-knee stump is too
# short for a calf cuff (ours, the cautious reading).
LOST_WITH: Mapping[AmputationLevel, frozenset[Site | Segment]] = {
    AmputationLevel.TRANSMETATARSAL: _ALL_TOES,
    AmputationLevel.MIDFOOT: _ALL_TOES,
    AmputationLevel.SYME: _FOOT | {Segment.ANKLE},
    AmputationLevel.BELOW_KNEE: _FOOT | {Segment.ANKLE, Segment.CALF},
    AmputationLevel.THROUGH_KNEE: _FOOT | {Segment.ANKLE, Segment.CALF},
    AmputationLevel.ABOVE_KNEE: _FOOT | {Segment.ANKLE, Segment.CALF, Segment.LOW_THIGH, Segment.THIGH},
    AmputationLevel.HIP: _FOOT | frozenset(Segment),
}
# The cuffs that lie over or near each vessel.
CUFFS_OVER: Mapping[Vessel, frozenset[Segment]] = {
    Vessel.AORTOILIAC: frozenset(),
    Vessel.COMMON_FEMORAL: frozenset({Segment.THIGH, Segment.HIGH_THIGH}),
    Vessel.SUPERFICIAL_FEMORAL: frozenset({Segment.THIGH, Segment.HIGH_THIGH, Segment.LOW_THIGH}),
    Vessel.POPLITEAL: frozenset({Segment.THIGH, Segment.LOW_THIGH, Segment.CALF}),
    Vessel.ANTERIOR_TIBIAL: frozenset({Segment.CALF, Segment.ANKLE}),
    Vessel.POSTERIOR_TIBIAL: frozenset({Segment.CALF, Segment.ANKLE}),
    Vessel.PERONEAL: frozenset({Segment.CALF, Segment.ANKLE}),
    Vessel.PEDAL: frozenset({Segment.ANKLE}),
}
_DOWN_THE_LEG = (Segment.THIGH, Segment.HIGH_THIGH, Segment.LOW_THIGH, Segment.CALF, Segment.ANKLE)
_GRAFTS = (Device.VEIN_GRAFT, Device.PROSTHETIC_GRAFT)


@dataclass(frozen=True, slots=True)
class LimbStanding:
    """How one limb stands on a day, by the events before it.

    Attributes
    ----------
    lost : mapping of Site or Segment to LimbEvent
        What is gone, and with which event: off the sheet, hatched on the ladder, not missing data.
    next_toe : Site or None
        The first toe that is still there, offered next; None on a foot without toes.
    major_loss : LimbEvent or None
        Ends every series below it; the other limb is shown first.
    baseline : LimbEvent or None
        The last revascularisation: older values are before it.
    arm_locked_by : LimbEvent or None
        A fistula in the arm of this side.
    cuff_warnings : mapping of Segment to words
    cautions : tuple of str
        Said beside the values of the limb.
    raises_urgency : bool
    raises_foot_risk : bool
        An amputation raises the risk of a foot with nerve loss or arterial disease to category 3
        (clinical reference 4.3).
    """

    side: Side
    on: date
    lost: Mapping[Site | Segment, LimbEvent] = field(default_factory=dict)
    next_toe: Site | None = Site.TOE_1
    major_loss: LimbEvent | None = None
    baseline: LimbEvent | None = None
    arm_locked_by: LimbEvent | None = None
    cuff_warnings: Mapping[Segment, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    raises_urgency: bool = False
    raises_foot_risk: bool = False

    def is_lost(self, site: Site | Segment) -> bool:
        return site in self.lost

    @property
    def days_since_baseline(self) -> tuple[int, int] | None:
        """Fewest and most days since the last revascularisation; None without one."""
        if self.baseline is None:
            return None
        fewest = max((self.on - self.baseline.on.latest).days, 0)
        return fewest, (self.on - self.baseline.on.earliest).days


def limb_standing(events: Iterable[LimbEvent], side: Side, on: date) -> LimbStanding:
    """How a limb stands on a day: what is gone, what is new, what to be careful of."""
    before = sorted(
        (event for event in events if event.concerns(side) and event.on.may_be_before(on)),
        key=lambda event: (event.on.latest, event.on.earliest),
    )
    lost: dict[Site | Segment, LimbEvent] = {}
    for event in before:
        lost |= {site: event for site in _lost_with(event) if site not in lost}
    lasting = [event for event in before if _counts_on(event, on)]
    return LimbStanding(
        side,
        on,
        lost=lost,
        next_toe=next((toe for toe in TOE_SITES if toe not in lost), None),
        major_loss=next((event for event in before if event.level and event.level.is_major), None),
        baseline=next((event for event in reversed(before) if EFFECTS[event.kind].new_baseline), None),
        arm_locked_by=next((event for event in lasting if EFFECTS[event.kind].locks_arm), None),
        cuff_warnings={cuff: words for cuff, words in _cuff_warnings(before).items() if cuff not in lost},
        cautions=tuple(dict.fromkeys(filter(None, (EFFECTS[event.kind].caution for event in lasting)))),
        raises_urgency=any(EFFECTS[event.kind].raises_urgency for event in lasting),
        raises_foot_risk=any(event.kind is EventKind.AMPUTATION for event in before),
    )


def limb_shown_first(events: Collection[LimbEvent], on: date) -> Side:
    """RIGHT, unless only the LEFT has been spared a major amputation."""
    right, left = (limb_standing(events, side, on).major_loss for side in (Side.RIGHT, Side.LEFT))
    return Side.LEFT if right and not left else Side.RIGHT


def breaks_between(
    events: Iterable[LimbEvent],
    side: Side,
    sites: Collection[Site | Segment],
    earlier: date,
    later: date,
) -> tuple[str, ...]:
    """Why a value of one day may not be compared with one of a later day, for what happened in between.

    Parameters
    ----------
    sites : collection of Site or Segment
        Where the earlier value was measured; for a series of one toe, that toe.

    Returns
    -------
    tuple of str
        Plain words for ``comparability``; empty if nothing is in the way.
    """
    reasons = []
    for event in events:
        if not event.concerns(side) or not event.on.may_lie_between(earlier, later):
            continue
        doubt = "" if earlier < event.on.earliest and event.on.latest < later else ", perhaps"
        if EFFECTS[event.kind].new_baseline:
            reasons.append(f"{event.words_dated}{doubt} in between: a new baseline")
        elif EFFECTS[event.kind].ends_lost_sites and _lost_with(event) & set(sites):
            reasons.append(f"{event.words_dated}{doubt} in between: the earlier site is gone")
    return tuple(reasons)


def cautions_between(
    events: Iterable[LimbEvent], side: Side, sites: Collection[Site], earlier: date, later: date
) -> tuple[str, ...]:
    """What held on one of two days and not on the other, and makes their difference doubtful."""
    found = []
    for event in events:
        effect = EFFECTS[event.kind]
        differs = _counts_on(event, earlier) is not _counts_on(event, later)
        if event.concerns(side) and effect.caution and set(effect.sites) & set(sites) and differs:
            found.append(f"at one exam only, {effect.caution}")
    return tuple(dict.fromkeys(found))


def _lost_with(event: LimbEvent) -> frozenset[Site | Segment]:
    if event.level is None:
        return frozenset()
    if event.level.names_toes:
        return frozenset(TOE_SITES[toe - 1] for toe in event.toes)
    return LOST_WITH[event.level]


def _counts_on(event: LimbEvent, day: date) -> bool:
    return event.on.may_be_before(day) if EFFECTS[event.kind].for_good else event.may_last_on(day)


def _cuff_warnings(events: Iterable[LimbEvent]) -> dict[Segment, str]:
    """Each cuff over or near a graft, an open repair or a stent; the graft's word before the stent's."""
    warnings: dict[Segment, str] = {}
    for event in events:
        if event.kind is not EventKind.REVASCULARISATION:
            continue
        graft = event.device in _GRAFTS
        opened = event.approach in (Approach.OPEN, Approach.BOTH)
        unknown = event.approach is None and event.device is None
        if graft or opened or unknown:
            # What is not known may be a graft.
            what = "bypass graft" if graft else "open repair" if opened else "perhaps a graft"
            words = f"{what} under or near this cuff ({event.words_dated}): ask the surgeon first"
            warnings |= dict.fromkeys(_cuffs_over(event, whole_way=True), words)
        elif event.device is Device.STENT:
            words = f"stent under or near this cuff ({event.words_dated}): follow the local rule"
            for cuff in _cuffs_over(event, whole_way=False):
                warnings.setdefault(cuff, words)
    return warnings


def _cuffs_over(event: LimbEvent, *, whole_way: bool) -> frozenset[Segment]:
    """The cuffs over the vessels named, for a graft also those between its ends; all if none is named."""
    if not event.vessels:
        return frozenset(Segment)
    over = frozenset[Segment]().union(*(CUFFS_OVER[vessel] for vessel in event.vessels))
    if not whole_way or not over:
        return over
    places = [_DOWN_THE_LEG.index(cuff) for cuff in over]
    top = 0 if Vessel.AORTOILIAC in event.vessels else min(places)
    return frozenset(_DOWN_THE_LEG[top : max(places) + 1])
