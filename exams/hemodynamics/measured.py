"""What was measured: frozen inputs of the core.

Pressures are systolic and held as whole numbers of half a mmHg (``half_mmhg``: 241 is 120.5 mmHg), so that
every index is exact. Nothing here knows criteria; nothing here is computed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from exams.hemodynamics.errors import InputError

Answer = str  # "yes", "no" or "unknown"
ANSWERS = ("yes", "no", "unknown")


class Side(StrEnum):
    """A side of the patient's body."""

    RIGHT = "right"
    LEFT = "left"

    @property
    def word(self) -> str:
        """RIGHT or LEFT, as written on every screen and page."""
        return self.value.upper()

    @property
    def other(self) -> Side:
        return Side.LEFT if self is Side.RIGHT else Side.RIGHT


class Site(StrEnum):
    """Where a cuff or probe was placed."""

    ARM = "arm"
    DORSALIS_PEDIS = "dorsalis_pedis"
    POSTERIOR_TIBIAL = "posterior_tibial"
    PERONEAL = "peroneal"
    TOE_1 = "toe_1"
    TOE_2 = "toe_2"
    TOE_3 = "toe_3"
    TOE_4 = "toe_4"
    TOE_5 = "toe_5"

    @property
    def words(self) -> str:
        return SITE_WORDS[self]


SITE_WORDS = {
    Site.ARM: "arm",
    Site.DORSALIS_PEDIS: "dorsalis pedis",
    Site.POSTERIOR_TIBIAL: "posterior tibial",
    Site.PERONEAL: "peroneal",
    Site.TOE_1: "hallux",
    Site.TOE_2: "second toe",
    Site.TOE_3: "third toe",
    Site.TOE_4: "fourth toe",
    Site.TOE_5: "fifth toe",
}
ANKLE_SITES = (Site.DORSALIS_PEDIS, Site.POSTERIOR_TIBIAL, Site.PERONEAL)
TOE_SITES = (Site.TOE_1, Site.TOE_2, Site.TOE_3, Site.TOE_4, Site.TOE_5)


class Segment(StrEnum):
    """Where a cuff lies along the leg: with three cuffs one wide thigh cuff, with four two narrow ones."""

    THIGH = "thigh"
    HIGH_THIGH = "high_thigh"
    LOW_THIGH = "low_thigh"
    CALF = "calf"
    ANKLE = "ankle"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class Outcome(StrEnum):
    """What came of one attempt at a site."""

    PRESSURE = "pressure"
    NOT_OCCLUDABLE = "not_occludable"
    NO_SIGNAL = "no_signal"
    NOT_OBTAINED = "not_obtained"


class Position(StrEnum):
    """How the patient lay or sat."""

    SUPINE = "supine"
    HEAD_RAISED = "head_raised"
    SITTING = "sitting"
    FOOT_RAISED = "foot_raised"
    OTHER = "other"


# Lowest and highest pressure that can be typed, in half mmHg (issue: arm 50-300, ankle and toe 1-300).
ARM_LIMITS_HALF_MMHG = (100, 600)
FOOT_LIMITS_HALF_MMHG = (2, 600)
# What a condition can be at all, in the unit of its name (ours).
CONDITION_LIMITS = {
    "rest_minutes": (0, 600),
    "heart_to_site_cm": (-200, 200),
    "room_celsius": (-10, 50),
    "tobacco_hours": (0, 1_000_000),
    "caffeine_hours": (0, 1_000_000),
}
TOE_CELSIUS_LIMITS = (0, 50)
SITE_GROUPS = ("arm", "ankle", "toe")
READING_SD_LIMITS_MMHG = (0, 50)


@dataclass(frozen=True, slots=True)
class SiteReading:
    """One attempt at one site.

    Parameters
    ----------
    outcome : Outcome
    half_mmhg : int or None
        ``pressure``: the systolic pressure in half mmHg. ``not_occludable``: the cuff pressure reached, None
        if unknown. Otherwise None.
    reason : str or None
        Why nothing was obtained.
    technique : str
        How it was measured ("doppler", "photoplethysmography", "oscillometric", …); two readings of different
        technique are never compared without saying so.
    repeat_of_first_arm : bool
        True for the reading taken again at the end, at the arm measured first.

    Raises
    ------
    InputError
        ``pressure.zero``, ``pressure.out_of_range``, ``pressure.missing`` or ``pressure.unexpected``.
    """

    outcome: Outcome
    half_mmhg: int | None = None
    reason: str | None = None
    technique: str = "doppler"
    repeat_of_first_arm: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "outcome", Outcome(self.outcome))
        needs = self.outcome is Outcome.PRESSURE
        allows = needs or self.outcome is Outcome.NOT_OCCLUDABLE
        if self.half_mmhg is None:
            if needs:
                raise InputError("pressure.missing", field="half_mmhg")
            return
        if not allows:
            raise InputError("pressure.unexpected", field="half_mmhg", value=self.half_mmhg)
        if isinstance(self.half_mmhg, bool) or not isinstance(self.half_mmhg, int):
            raise InputError("pressure.not_whole_halves", field="half_mmhg", value=self.half_mmhg)
        if self.half_mmhg == 0:
            raise InputError("pressure.zero", field="half_mmhg", value=0)
        low, high = FOOT_LIMITS_HALF_MMHG
        if not low <= self.half_mmhg <= high:
            raise InputError("pressure.out_of_range", "half_mmhg", self.half_mmhg, FOOT_LIMITS_HALF_MMHG)


def pressure(
    mmhg: Decimal | int | str, technique: str = "doppler", *, repeat_of_first_arm: bool = False
) -> SiteReading:
    """A reading of so many mmHg (whole or half).

    Raises
    ------
    InputError
        ``pressure.not_whole_halves`` for anything but whole or half mmHg; else as ``SiteReading``.
    """
    doubled = Decimal(mmhg) * 2
    if not doubled.is_finite() or doubled != doubled.to_integral_value():
        raise InputError("pressure.not_whole_halves", field="mmhg", value=mmhg)
    return SiteReading(
        Outcome.PRESSURE, int(doubled), technique=technique, repeat_of_first_arm=repeat_of_first_arm
    )


@dataclass(frozen=True, slots=True)
class MeasuredLimb:
    """One side of the body: the arm, the ankle arteries and the toes of that side.

    Readings of a site are in the order taken. A site that is absent was not tried.

    Raises
    ------
    InputError
        ``pressure.out_of_range`` (arm 50-300 mmHg), ``site.wrong_place`` for a toe among the arteries and
        the like.
    """

    side: Side
    arm: tuple[SiteReading, ...] = ()
    ankle: Mapping[Site, tuple[SiteReading, ...]] = field(default_factory=dict)
    toes: Mapping[Site, tuple[SiteReading, ...]] = field(default_factory=dict)
    toe_skin_celsius: Decimal | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "side", Side(self.side))
        low, high = ARM_LIMITS_HALF_MMHG
        for reading in self.arm:
            half = reading.half_mmhg
            if reading.outcome is Outcome.PRESSURE and half is not None and not low <= half <= high:
                raise InputError("pressure.out_of_range", f"{self.side}.arm", half, ARM_LIMITS_HALF_MMHG)
        _refuse_outside(f"{self.side}.toe_skin_celsius", self.toe_skin_celsius, *TOE_CELSIUS_LIMITS)
        for site in self.ankle:
            if site not in ANKLE_SITES:
                raise InputError("site.wrong_place", f"{self.side}.ankle", str(site), ANKLE_SITES)
        for site in self.toes:
            if site not in TOE_SITES:
                raise InputError("site.wrong_place", f"{self.side}.toes", str(site), TOE_SITES)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What the readings were taken under; None is "not recorded".

    Raises InputError ``condition.out_of_range`` for what cannot be (``CONDITION_LIMITS``).

    ``rest_typed`` is True where the rest was typed in afterwards and not timed. ``heart_to_site_cm`` is how
    far the foot is ABOVE the heart, in cm, negative below. ``tobacco_hours`` and ``caffeine_hours`` are the
    hours since the last.
    """

    position: Position | str | None = None
    rest_minutes: int | None = None
    rest_typed: bool = False
    heart_to_site_cm: Decimal | None = None
    room_celsius: Decimal | None = None
    tobacco_hours: Decimal | None = None
    caffeine_hours: Decimal | None = None

    def __post_init__(self) -> None:
        for name, (low, high) in CONDITION_LIMITS.items():
            _refuse_outside(name, getattr(self, name), low, high)


@dataclass(frozen=True, slots=True)
class MeasuredExam:
    """Both sides, the conditions, and what was planned.

    Parameters
    ----------
    first_arm : Side or None
        The arm measured first (its repeat at the end has a rule of its own); None if not known.
    planned : frozenset of (Side, Site)
        What the exam type asks for; a planned site without a reading is named as missing.

    Raises
    ------
    InputError
        ``side.wrong_place`` where the sides are swapped.
    """

    right: MeasuredLimb = field(default_factory=lambda: MeasuredLimb(Side.RIGHT))
    left: MeasuredLimb = field(default_factory=lambda: MeasuredLimb(Side.LEFT))
    first_arm: Side | None = None
    conditions: Conditions = field(default_factory=Conditions)
    planned: frozenset[tuple[Side, Site]] = frozenset()

    def __post_init__(self) -> None:
        if self.first_arm is not None:
            object.__setattr__(self, "first_arm", Side(self.first_arm))
        for expected, limb in ((Side.RIGHT, self.right), (Side.LEFT, self.left)):
            if limb.side is not expected:
                raise InputError("side.wrong_place", expected, str(limb.side))

    def limb(self, side: Side) -> MeasuredLimb:
        return self.right if side == Side.RIGHT else self.left


@dataclass(frozen=True, slots=True)
class LimbFacts:
    """Facts of a foot that change what its pressures mean.

    ``gangrene`` counts wherever an open wound does (clinical reference 2.4, 4.1), under its own name.
    ``had_signal_before``: an earlier exam found flow at this ankle, so none now may be acute.
    """

    open_wound: bool = False
    gangrene: bool = False
    rest_pain: bool = False
    foot_infection: bool = False
    had_signal_before: bool = False

    @property
    def tissue_lost(self) -> bool:
        """An ulcer or gangrene is recorded."""
        return self.open_wound or self.gangrene

    @property
    def words(self) -> tuple[str, ...]:
        """What puts the limb at stake, each in words."""
        told = (
            ("an open wound", self.open_wound),
            ("gangrene", self.gangrene),
            ("rest pain", self.rest_pain),
            ("foot infection", self.foot_infection),
        )
        return tuple(words for words, holds in told if holds)


@dataclass(frozen=True, slots=True)
class Context:
    """The patient behind the exam.

    Raises InputError ``context.unknown_answer``, ``context.unknown_site_group``, ``condition.out_of_range``.

    Parameters
    ----------
    diabetes, kidney_disease : "yes", "no" or "unknown"
    right, left : LimbFacts
    reading_sd_mmhg : mapping of (Site group, technique) to Decimal
        The clinic's own SD of one reading, by ("arm" | "ankle" | "toe", technique), in mmHg; used only where
        it is larger than the pooled value of the criteria.
    """

    diabetes: Answer = "unknown"
    kidney_disease: Answer = "unknown"
    right: LimbFacts = field(default_factory=LimbFacts)
    left: LimbFacts = field(default_factory=LimbFacts)
    reading_sd_mmhg: Mapping[tuple[str, str], Decimal] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("diabetes", "kidney_disease"):
            if getattr(self, name) not in ANSWERS:
                raise InputError("context.unknown_answer", name, getattr(self, name), ANSWERS)
        for (group, technique), sd in self.reading_sd_mmhg.items():
            if group not in SITE_GROUPS:
                raise InputError("context.unknown_site_group", "reading_sd_mmhg", group, SITE_GROUPS)
            _refuse_outside(f"reading_sd_mmhg.{group}.{technique}", sd, *READING_SD_LIMITS_MMHG)

    def limb(self, side: Side) -> LimbFacts:
        return self.right if side == Side.RIGHT else self.left


def _refuse_outside(field_name: str, value: Decimal | int | None, low: int, high: int) -> None:
    """Raise InputError ``condition.out_of_range`` unless the value is None or a number from low to high."""
    if value is None:
        return
    number = Decimal(value)
    if not number.is_finite() or not low <= number <= high:
        raise InputError("condition.out_of_range", field_name, value, (low, high))
