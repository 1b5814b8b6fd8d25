"""One measure of one limb over the years: where its line runs, where it breaks, and why.

Pure: no Django, no queries. `queries` fills `Seen` from the record; the page, its table, the CSV and the
printed trend all read the same `Series`, so that none of them can hide what another shows.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple


class Measure(StrEnum):
    """The four measures a limb is followed by. The values are the core's names of its findings."""

    ANKLE_PRESSURE = "ankle_pressure"
    TOE_PRESSURE = "toe_pressure"
    ANKLE_BRACHIAL_INDEX = "ankle_brachial_index"
    TOE_BRACHIAL_INDEX = "toe_brachial_index"


class Absence(StrEnum):
    """Why an exam gives no value: three different things, never mixed up and never a zero."""

    NOT_OCCLUDABLE = "not_occludable"
    NO_SIGNAL = "no_signal"
    NOT_MADE = "not_made"


class Point(NamedTuple):
    """A value of one exam, in mmHg for pressures and in whole units (0.43) for indices.

    `interval` is the 95 % interval in the same unit, `interval_shown` how it is written; where there is none,
    `unsure` says why. `at` is in the clinic's zone. `reading_ids` are the readings behind a pressure.
    `chances` say how likely the true value lies beneath each limit of the criteria.
    """

    exam_id: int
    at: datetime
    value: Decimal
    shown: str
    interval: tuple[Decimal, Decimal] | None = None
    interval_shown: str = ""
    unsure: str = ""
    how: str = ""
    band: str = ""
    band_words: str = ""
    reading_ids: tuple[int, ...] = ()
    chances: tuple[str, ...] = ()


class NoValue(NamedTuple):
    """An exam without a value, and why. `cuff_mmhg` is the cuff pressure at which flow still went on."""

    exam_id: int
    at: datetime
    absence: Absence
    because: str
    cuff_mmhg: Decimal | None = None
    band: str = ""
    band_words: str = ""
    reading_ids: tuple[int, ...] = ()


Seen = Point | NoValue


@dataclass(frozen=True)
class Break:
    """A place where the line is not drawn because what stands before and after may not be compared."""

    before: Point
    after: Point
    reasons: tuple[str, ...]

    @property
    def at(self) -> datetime:
        """Halfway between the two exams."""
        return self.before.at + (self.after.at - self.before.at) / 2

    @property
    def height(self) -> Decimal:
        """Halfway between the two values: where the line would have run."""
        return (self.before.value + self.after.value) / 2


@dataclass(frozen=True)
class Counted:
    """How many values, exams without one, and breaks a measure has in all."""

    values: int
    absences: int
    breaks: int


@dataclass(frozen=True)
class Series:
    """Everything seen of one measure, oldest first, and how it is drawn.

    `stretches` are runs of values that may be joined by a line; `breaks` stand between two stretches;
    `absences` are the exams that gave no value, each with its reason. Of very many exams only a few are held
    (`few.few_of`); `of` then says how many there are.
    """

    measure: Measure
    seen: tuple[Seen, ...]
    stretches: tuple[tuple[Point, ...], ...]
    breaks: tuple[Break, ...]
    of: Counted | None = None

    @property
    def counted(self) -> Counted:
        """How many there are in all, held here or not."""
        return self.of or Counted(len(self.points), len(self.absences), len(self.breaks))

    @property
    def points(self) -> tuple[Point, ...]:
        return tuple(one for one in self.seen if isinstance(one, Point))

    @property
    def absences(self) -> tuple[NoValue, ...]:
        return tuple(one for one in self.seen if isinstance(one, NoValue))


ReasonsBetween = Callable[[Point, Point], tuple[str, ...]]


def join(measure: Measure, seen: Iterable[Seen], reasons_between: ReasonsBetween) -> Series:
    """Lay the values of one measure into stretches, breaking wherever two neighbours may not be compared.

    Parameters
    ----------
    measure : Measure
    seen : iterable of Seen, any order
    reasons_between : function (earlier, later) -> reasons why their values may not be compared
        Empty when they may. The core's `comparability`, bound to the exams' readings.

    Returns
    -------
    Series
        Values are neighbours when no other value lies between them. An exam between two values that could
        not be occluded, or gave no signal, breaks the line as well: a line drawn through would claim that
        the limb was known in between. An exam where the measure was merely not made does not break it.
    """
    ordered = tuple(sorted(seen, key=lambda one: (one.at, one.exam_id)))
    stretches: list[list[Point]] = []
    breaks = []
    unmeasurable: list[NoValue] = []
    for one in ordered:
        if isinstance(one, NoValue):
            if one.absence is not Absence.NOT_MADE:
                unmeasurable.append(one)
            continue
        before = stretches[-1][-1] if stretches else None
        reasons = (*reasons_between(before, one), *_told(unmeasurable)) if before else ()
        if before and not reasons:
            stretches[-1].append(one)
        else:
            stretches.append([one])
        if before and reasons:
            breaks.append(Break(before, one, reasons))
        unmeasurable = []
    return Series(measure, ordered, tuple(tuple(run) for run in stretches), tuple(breaks))


def _told(unmeasurable: list[NoValue]) -> list[str]:
    """Each reason once, with its date, or with its first and last date and how often."""
    by_reason: dict[str, list[NoValue]] = {}
    for one in unmeasurable:
        by_reason.setdefault(one.because, []).append(one)
    return [
        f"{because} on {day(found[0].at)}"
        if len(found) == 1
        else f"{because} in {len(found)} exams, {day(found[0].at)} to {day(found[-1].at)}"
        for because, found in by_reason.items()
    ]


def day(at: date) -> str:
    """A date as every page writes it: 3 Nov 2026."""
    return f"{at.day} {at:%b %Y}"
