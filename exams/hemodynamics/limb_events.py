"""What has happened to a limb: plain events, each with a date that may be no more than "about 2019".

What an event does to later numbers is in ``limb_effects``; which cannot be, in ``limb_event_checks``.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.measured import SITE_WORDS, TOE_SITES, Side

TOES = (1, 2, 3, 4, 5)


class EventKind(StrEnum):
    REVASCULARISATION = "revascularisation"
    AMPUTATION = "amputation"
    INFECTION = "foot_infection"
    FISTULA = "fistula"
    DIALYSIS_START = "dialysis"
    ARRHYTHMIA = "arrhythmia"
    CHARCOT = "charcot"
    OEDEMA = "oedema"

    @property
    def words(self) -> str:
        return KIND_WORDS[self]


KIND_WORDS = {
    EventKind.REVASCULARISATION: "revascularisation",
    EventKind.AMPUTATION: "amputation",
    EventKind.INFECTION: "foot infection",
    EventKind.FISTULA: "dialysis fistula or graft made",
    EventKind.DIALYSIS_START: "dialysis started",
    EventKind.ARRHYTHMIA: "irregular heartbeat",
    EventKind.CHARCOT: "Charcot foot",
    EventKind.OEDEMA: "swelling (oedema)",
}


class AmputationLevel(StrEnum):
    """From the toe up; a higher level takes everything below it."""

    TOE = "toe"
    RAY = "ray"
    TRANSMETATARSAL = "transmetatarsal"
    MIDFOOT = "midfoot"
    SYME = "syme"
    BELOW_KNEE = "below_knee"
    THROUGH_KNEE = "through_knee"
    ABOVE_KNEE = "above_knee"
    HIP = "hip"

    @property
    def words(self) -> str:
        return LEVEL_WORDS[self]

    @property
    def names_toes(self) -> bool:
        """Whether it is of single toes or rays, which must then be named."""
        return self in (AmputationLevel.TOE, AmputationLevel.RAY)

    @property
    def is_major(self) -> bool:
        """Above the ankle (workflow 6, C:S46); through the ankle joint counts as minor."""
        return LEVELS.index(self) > LEVELS.index(AmputationLevel.SYME)


LEVELS = tuple(AmputationLevel)
LEVEL_WORDS = {
    AmputationLevel.TOE: "toe amputation",
    AmputationLevel.RAY: "ray amputation",
    AmputationLevel.TRANSMETATARSAL: "transmetatarsal amputation",
    AmputationLevel.MIDFOOT: "midfoot amputation",
    AmputationLevel.SYME: "amputation through the ankle (Syme)",
    AmputationLevel.BELOW_KNEE: "below-knee amputation",
    AmputationLevel.THROUGH_KNEE: "through-knee amputation",
    AmputationLevel.ABOVE_KNEE: "above-knee amputation",
    AmputationLevel.HIP: "amputation at the hip",
}


class Vessel(StrEnum):
    """Arteries worked on, from above down: for a bypass both of its ends."""

    AORTOILIAC = "aortoiliac"
    COMMON_FEMORAL = "common_femoral"
    SUPERFICIAL_FEMORAL = "superficial_femoral"
    POPLITEAL = "popliteal"
    ANTERIOR_TIBIAL = "anterior_tibial"
    POSTERIOR_TIBIAL = "posterior_tibial"
    PERONEAL = "peroneal"
    PEDAL = "pedal"

    @property
    def words(self) -> str:
        return VESSEL_WORDS.get(self, self.value.replace("_", " "))


VESSEL_WORDS = {
    Vessel.AORTOILIAC: "aorta or iliac",
    Vessel.COMMON_FEMORAL: "common or deep femoral",
    Vessel.PEDAL: "arteries of the foot",
}


class Approach(StrEnum):
    OPEN = "open"
    ENDOVASCULAR = "endovascular"
    BOTH = "both"  # in one sitting

    @property
    def words(self) -> str:
        return "open and endovascular" if self is Approach.BOTH else self.value


class Device(StrEnum):
    """What was left in the limb."""

    NONE = "none"
    STENT = "stent"
    VEIN_GRAFT = "vein_graft"
    PROSTHETIC_GRAFT = "prosthetic_graft"
    PATCH = "patch"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class InfectionGrade(StrEnum):
    """IWGDF/IDSA severity (clinical reference 4.5)."""

    MILD = "mild"
    MODERATE = "moderate"
    SEVERE = "severe"


class Precision(StrEnum):
    """How well a date is known."""

    DAY = "day"
    MONTH = "month"
    YEAR = "year"  # about that year


@dataclass(frozen=True, slots=True)
class EventDate:
    """A date as well as it is known: two columns in a table, and the days it may have been.

    Parameters
    ----------
    on : date
        The day; for a month or a year any day in it (the first, by custom).
    precision : Precision
    """

    on: date
    precision: Precision = Precision.DAY

    def __post_init__(self) -> None:
        object.__setattr__(self, "precision", Precision(self.precision))

    @property
    def earliest(self) -> date:
        """The first day it may have been."""
        if self.precision is Precision.DAY:
            return self.on
        if self.precision is Precision.MONTH:
            return self.on.replace(day=1)
        return date(self.on.year, 1, 1)

    @property
    def latest(self) -> date:
        """The last day it may have been."""
        if self.precision is Precision.DAY:
            return self.on
        if self.precision is Precision.MONTH:
            return self.on.replace(day=calendar.monthrange(self.on.year, self.on.month)[1])
        return date(self.on.year, 12, 31)

    @property
    def words(self) -> str:
        """ "3 Nov 2019", "Nov 2019", "about 2019"."""
        if self.precision is Precision.DAY:
            return f"{self.on.day} {self.on:%b} {self.on.year}"
        if self.precision is Precision.MONTH:
            return f"{self.on:%b} {self.on.year}"
        return f"about {self.on.year}"

    def may_lie_between(self, earlier: date, later: date) -> bool:
        """Whether it may have been on or between two days: in doubt, yes."""
        return self.earliest <= later and self.latest >= earlier

    def may_be_before(self, day: date) -> bool:
        """Whether it may have been on or before a day."""
        return self.earliest <= day


NEEDS_SIDE = (EventKind.AMPUTATION, EventKind.FISTULA, EventKind.INFECTION, EventKind.CHARCOT)
HAS_NO_SIDE = (EventKind.DIALYSIS_START, EventKind.ARRHYTHMIA)
# Done on a day and never undone: they have no end.
DONE_ONCE = (EventKind.REVASCULARISATION, EventKind.AMPUTATION)


@dataclass(frozen=True, slots=True)
class LimbEvent:
    """One dated event.

    Parameters
    ----------
    kind : EventKind
    on : EventDate
        When it happened or began.
    side : Side or None
        The limb (of a fistula: the arm). None is both limbs; dialysis and heartbeat have no side.
    until : EventDate or None
        When a lasting one ended; None while it lasts.
    level, toes
        Of an amputation; toes by number, only of toe and ray.
    vessels, approach, device
        Of a revascularisation; each may be unknown.
    grade, osteomyelitis
        Of an infection.

    Raises
    ------
    InputError
        ``event.side_missing``, ``event.side_unexpected``, ``event.level_missing``, ``event.toes_missing``,
        ``event.unexpected`` (a field of another kind), ``event.ends_before_it_starts``.
    """

    kind: EventKind
    on: EventDate
    side: Side | None = None
    until: EventDate | None = None
    level: AmputationLevel | None = None
    toes: tuple[int, ...] = ()
    vessels: tuple[Vessel, ...] = ()
    approach: Approach | None = None
    device: Device | None = None
    grade: InfectionGrade | None = None
    osteomyelitis: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "kind", EventKind(self.kind))
        for name, kind in (("side", Side), ("level", AmputationLevel), ("approach", Approach),
                           ("device", Device), ("grade", InfectionGrade)):  # fmt: skip
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, kind(value))
        object.__setattr__(self, "toes", tuple(sorted(set(self.toes))))
        object.__setattr__(self, "vessels", tuple(Vessel(vessel) for vessel in self.vessels))
        self._check_side()
        self._check_parts()
        if self.until is not None and self.until.latest < self.on.earliest:
            raise InputError("event.ends_before_it_starts", "until", self.until.words, self.on.words)

    @property
    def words(self) -> str:
        """ "LEFT below-knee amputation", "RIGHT hallux amputation", "RIGHT revascularisation: popliteal"."""
        side = f"{self.side.word} " if self.side else ""
        return f"{side}{self._what()}"

    @property
    def words_dated(self) -> str:
        return f"{self.words}, {self.on.words}"

    def concerns(self, side: Side) -> bool:
        return self.side is None or self.side is side

    def may_last_on(self, day: date) -> bool:
        """Whether a lasting event may have been going on that day."""
        return self.on.may_be_before(day) and (self.until is None or self.until.latest >= day)

    def _what(self) -> str:
        if self.kind is EventKind.AMPUTATION and self.level is not None:
            if not self.level.names_toes:
                return self.level.words
            of = " and ".join(SITE_WORDS[TOE_SITES[toe - 1]] for toe in self.toes)
            return f"{of} {'ray ' if self.level is AmputationLevel.RAY else ''}amputation"
        if self.kind is EventKind.REVASCULARISATION:
            how = f"{self.approach.words} " if self.approach else ""
            where = f": {', '.join(vessel.words for vessel in self.vessels)}" if self.vessels else ""
            return f"{how}revascularisation{where}"
        if self.kind is EventKind.INFECTION:
            grade = f"{self.grade} " if self.grade else ""
            return f"{grade}foot infection{' with osteomyelitis' if self.osteomyelitis else ''}"
        return self.kind.words

    def _check_side(self) -> None:
        if self.kind in NEEDS_SIDE and self.side is None:
            raise InputError("event.side_missing", "side", self.kind.value)
        if self.kind in HAS_NO_SIDE and self.side is not None:
            raise InputError("event.side_unexpected", "side", self.side.value)

    def _check_parts(self) -> None:
        if self.kind is EventKind.AMPUTATION:
            if self.level is None:
                raise InputError("event.level_missing", "level")
            if self.level.names_toes and not self.toes:
                raise InputError("event.toes_missing", "toes", self.level.value)
            if not self.level.names_toes and self.toes:
                raise InputError("event.unexpected", "toes", self.toes)
            if not set(self.toes) <= set(TOES):
                raise InputError("event.unexpected", "toes", self.toes, TOES)
        belongs = {
            "level": EventKind.AMPUTATION,
            "toes": EventKind.AMPUTATION,
            "vessels": EventKind.REVASCULARISATION,
            "approach": EventKind.REVASCULARISATION,
            "device": EventKind.REVASCULARISATION,
            "grade": EventKind.INFECTION,
            "osteomyelitis": EventKind.INFECTION,
        }
        for name, kind in belongs.items():
            if getattr(self, name) and self.kind is not kind:
                raise InputError("event.unexpected", name, getattr(self, name))
        if self.until is not None and self.kind in DONE_ONCE:
            raise InputError("event.unexpected", "until", self.until.words)
