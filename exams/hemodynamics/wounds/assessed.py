"""What is seen at a wound and known of a foot: frozen inputs. What was not looked at stays unknown, never no.

Answers are "yes", "no" or "unknown"; a number or choice that is not known is None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.measured import ANSWERS, SITE_WORDS, TOE_SITES, Answer, Side

TOE_NUMBERS = (1, 2, 3, 4, 5)


class Region(StrEnum):
    """Where on the foot or leg a wound lies."""

    FOREFOOT = "forefoot"  # the toes among it
    MIDFOOT = "midfoot"
    HINDFOOT = "hindfoot"
    HEEL = "heel"
    LEG = "leg"

    @property
    def words(self) -> str:
        return self.value


HEEL_REGIONS = (Region.HINDFOOT, Region.HEEL)


class Cause(StrEnum):
    """What the clinician holds it to come from."""

    NEUROPATHIC = "neuropathic"
    ISCHAEMIC = "ischaemic"
    MIXED = "mixed"  # nerve loss and arterial disease
    PRESSURE = "pressure"
    VENOUS = "venous"
    AFTER_SURGERY = "after_surgery"
    INJURY = "injury"
    OTHER = "other"
    UNKNOWN = "unknown"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class Tissue(StrEnum):
    """The deepest tissue that shows, from the surface down."""

    SKIN = "skin"
    SUBCUTIS = "subcutis"
    MUSCLE = "muscle"
    TENDON = "tendon"
    JOINT = "joint"
    BONE = "bone"

    @property
    def words(self) -> str:
        return self.value

    @property
    def is_deep(self) -> bool:
        """Deeper than skin and subcutis."""
        return self not in (Tissue.SKIN, Tissue.SUBCUTIS)


class Gangrene(StrEnum):
    NONE = "none"
    DIGITS = "digits"  # limited to the toes
    EXTENSIVE = "extensive"  # forefoot or midfoot
    HEEL = "heel"  # through the full thickness of the heel

    @property
    def words(self) -> str:
        return GANGRENE_WORDS[self]


GANGRENE_WORDS = {
    Gangrene.NONE: "no gangrene",
    Gangrene.DIGITS: "gangrene limited to the toes",
    Gangrene.EXTENSIVE: "extensive gangrene of the forefoot or midfoot",
    Gangrene.HEEL: "full-thickness heel necrosis",
}


class OtherCause(StrEnum):
    """What can look like infection and must be excluded (clinical reference 4.5)."""

    GOUT = "gout"
    CHARCOT = "charcot"
    FRACTURE = "fracture"
    THROMBOSIS = "thrombosis"
    STASIS = "stasis"
    TRAUMA = "trauma"

    @property
    def words(self) -> str:
        return "Charcot foot" if self is OtherCause.CHARCOT else self.value


# What can be at all, in the unit of the name (ours, for typing errors).
WOUND_LIMITS: Mapping[str, tuple[int, int]] = {
    "length_mm": (1, 600),
    "width_mm": (1, 600),
    "traced_area_mm2": (1, 200_000),
    "erythema_mm": (0, 600),
    "temperature_celsius": (25, 45),
    "heart_rate": (20, 300),
    "respiratory_rate": (4, 80),
    "paco2_mmhg": (10, 150),
    "white_cells_10_9_l": (0, 500),
    "band_forms_percent": (0, 100),
}


@dataclass(frozen=True, slots=True)
class SystemicSigns:
    """The values that tell of an infection of the whole body; None is not known.

    Temperature in °C, heart and breaths a minute, arterial CO2 in mmHg (1 kPa is 7.5 mmHg), white cells in
    10^9 a litre, band forms in percent. Raises InputError ``wound.out_of_range``.
    """

    temperature_celsius: Decimal | None = None
    heart_rate: int | None = None
    respiratory_rate: int | None = None
    paco2_mmhg: Decimal | None = None
    white_cells_10_9_l: Decimal | None = None
    band_forms_percent: Decimal | None = None

    def __post_init__(self) -> None:
        for name in self.__slots__:
            _refuse_outside(name, getattr(self, name))


@dataclass(frozen=True, slots=True)
class InfectionSigns:
    """What is seen around a wound.

    Parameters
    ----------
    swelling, tenderness, warmth, pus : Answer
        Swelling or induration; tenderness or pain; warmth; pus.
    erythema_mm : int or None
        How far the redness reaches from the edge of the wound; 0 is none, None not looked at.
    deeper : Answer
        Deeper than skin and subcutis: abscess, septic arthritis, fasciitis.
    osteomyelitis : Answer
    explained_by : frozenset of OtherCause
        What a clinician holds to explain the signs instead of an infection.
    systemic : SystemicSigns

    Raises
    ------
    InputError
        ``wound.unknown_answer`` or ``wound.out_of_range``.
    """

    swelling: Answer = "unknown"
    tenderness: Answer = "unknown"
    warmth: Answer = "unknown"
    pus: Answer = "unknown"
    erythema_mm: int | None = None
    deeper: Answer = "unknown"
    osteomyelitis: Answer = "unknown"
    explained_by: frozenset[OtherCause] = frozenset()
    systemic: SystemicSigns = field(default_factory=SystemicSigns)

    def __post_init__(self) -> None:
        _refuse_answers(self, "swelling", "tenderness", "warmth", "pus", "deeper", "osteomyelitis")
        _refuse_outside("erythema_mm", self.erythema_mm)
        object.__setattr__(self, "explained_by", frozenset(OtherCause(one) for one in self.explained_by))


@dataclass(frozen=True, slots=True)
class AssessedWound:
    """One wound as seen on one day.

    Parameters
    ----------
    side, region
    toe : int or None
        1 (hallux) to 5, only in the forefoot.
    length_mm, width_mm, traced_area_mm2 : int or None
        The longest length and the widest width across it, or the area traced.
    deepest : Tissue or None
        The deepest tissue that shows.
    bone_only_in_distal_phalanx, calcaneus : Answer
        Whether bone shows nowhere but in the end bone of a toe; whether the heel bone is involved.
    extensive : Answer
        Extensive, in the clinician's judgement: WIfI gives no size.
    gangrene : Gangrene or None

    Raises
    ------
    InputError
        ``wound.out_of_range``, ``wound.unknown_answer``, ``wound.toe_elsewhere``,
        ``wound.phalanx_without_bone``, ``wound.phalanx_elsewhere``, ``wound.calcaneus_elsewhere``,
        ``wound.gangrene_elsewhere``, ``wound.width_missing``, ``wound.length_missing``.
    """

    side: Side
    region: Region
    assessed_on: date
    toe: int | None = None
    cause: Cause = Cause.UNKNOWN
    length_mm: int | None = None
    width_mm: int | None = None
    traced_area_mm2: int | None = None
    deepest: Tissue | None = None
    bone_only_in_distal_phalanx: Answer = "unknown"
    calcaneus: Answer = "unknown"
    extensive: Answer = "unknown"
    gangrene: Gangrene | None = None
    infection: InfectionSigns = field(default_factory=InfectionSigns)

    def __post_init__(self) -> None:
        for name, kind in (("side", Side), ("region", Region), ("cause", Cause),
                           ("deepest", Tissue), ("gangrene", Gangrene)):  # fmt: skip
            value = getattr(self, name)
            if value is not None:
                object.__setattr__(self, name, kind(value))
        _refuse_answers(self, "bone_only_in_distal_phalanx", "calcaneus", "extensive")
        for name in ("length_mm", "width_mm", "traced_area_mm2"):
            _refuse_outside(name, getattr(self, name))
        if self.length_mm is not None and self.width_mm is None:
            raise InputError("wound.width_missing", "width_mm")
        if self.width_mm is not None and self.length_mm is None:
            raise InputError("wound.length_missing", "length_mm")
        self._check_place()

    @property
    def has_gangrene(self) -> bool:
        return self.gangrene not in (None, Gangrene.NONE)

    @property
    def place_words(self) -> str:
        """ "RIGHT hallux", "LEFT heel"."""
        where = SITE_WORDS[TOE_SITES[self.toe - 1]] if self.toe else self.region.words
        return f"{self.side.word} {where}"

    def _check_place(self) -> None:
        if self.toe is not None and (self.toe not in TOE_NUMBERS or self.region is not Region.FOREFOOT):
            raise InputError("wound.toe_elsewhere", "toe", self.toe, TOE_NUMBERS)
        if self.bone_only_in_distal_phalanx == "yes":
            if self.region is not Region.FOREFOOT:
                raise InputError("wound.phalanx_elsewhere", "bone_only_in_distal_phalanx", self.region.value)
            if self.deepest not in (None, Tissue.BONE):
                raise InputError("wound.phalanx_without_bone", "bone_only_in_distal_phalanx", self.deepest)
        if self.calcaneus == "yes" and self.region not in HEEL_REGIONS:
            raise InputError("wound.calcaneus_elsewhere", "calcaneus", self.region.value)
        misplaced = {
            Gangrene.DIGITS: self.region is not Region.FOREFOOT,
            Gangrene.HEEL: self.region not in HEEL_REGIONS,
        }
        if self.gangrene is not None and misplaced.get(self.gangrene, False):
            raise InputError("wound.gangrene_elsewhere", "gangrene", self.gangrene.value, self.region.value)


@dataclass(frozen=True, slots=True)
class FootFacts:
    """What is known of a foot and its person beside the wound.

    ``pulse_felt``: at least one pedal pulse; ``reduced_flow``: pedal flow clinically reduced. Raises
    InputError ``wound.unknown_answer``.
    """

    sensation_lost: Answer = "unknown"
    pulse_felt: Answer = "unknown"
    reduced_flow: Answer = "unknown"
    deformity: Answer = "unknown"
    arterial_disease: Answer = "unknown"
    past_ulcer: Answer = "unknown"
    past_minor_amputation: Answer = "unknown"
    past_major_amputation: Answer = "unknown"
    end_stage_kidney_disease: Answer = "unknown"

    def __post_init__(self) -> None:
        _refuse_answers(self, *self.__slots__)


class AreaMethod(StrEnum):
    """How an area was found; areas found in two ways are not compared."""

    TRACED = "traced"
    LENGTH_TIMES_WIDTH = "length_times_width"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


@dataclass(frozen=True, slots=True)
class AreaReading:
    """The area of one wound on one day, in mm² above or, once it is closed, equal to 0."""

    on: date
    area_mm2: int
    method: AreaMethod

    def __post_init__(self) -> None:
        object.__setattr__(self, "method", AreaMethod(self.method))
        low, high = 0, WOUND_LIMITS["traced_area_mm2"][1]
        if isinstance(self.area_mm2, bool) or not low <= self.area_mm2 <= high:
            raise InputError("wound.out_of_range", "area_mm2", self.area_mm2, (low, high))


def _refuse_outside(name: str, value: Decimal | int | None) -> None:
    """Raise InputError ``wound.out_of_range`` unless the value is None or within ``WOUND_LIMITS``."""
    if value is None:
        return
    low, high = WOUND_LIMITS[name]
    number = Decimal(value)
    if not number.is_finite() or not low <= number <= high:
        raise InputError("wound.out_of_range", name, value, (low, high))


def _refuse_answers(held: object, *names: str) -> None:
    for name in names:
        if getattr(held, name) not in ANSWERS:
            raise InputError("wound.unknown_answer", name, getattr(held, name), ANSWERS)
