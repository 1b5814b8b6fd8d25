"""One measure of one limb over the years: where its line runs, where it breaks, and why.

Pure: no Django, no queries. `queries` fills `Seen` from the record; the page, its table, the CSV and the
printed trend all read the same `Series`, so that none of them can hide what another shows.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from itertools import pairwise


class Measure(StrEnum):
    """The four measures a limb is followed by. The values are the core's names of its findings."""

    ANKLE_PRESSURE = "ankle_pressure"
    TOE_PRESSURE = "toe_pressure"
    ANKLE_BRACHIAL_INDEX = "ankle_brachial_index"
    TOE_BRACHIAL_INDEX = "toe_brachial_index"


class Kind(StrEnum):
    """What one exam gave: only a VALUE may become a point of the line."""

    VALUE = "value"
    NOT_OCCLUDABLE = "not_occludable"
    NO_SIGNAL = "no_signal"
    NOT_STATED = "not_stated"


@dataclass(frozen=True)
class Seen:
    """What one exam says of one measure of one limb.

    `value`, `low` and `high` are in mmHg for pressures and in whole units (0.43) for indices. `at_least` is
    the cuff pressure reached in mmHg, or the index's lower bound, where the ankle could not be occluded.
    `because` is set for every kind but VALUE. `unsure` says why an interval is not given.
    """

    exam_id: int
    at: datetime
    kind: Kind
    shown: str
    value: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    unsure: str = ""
    at_least: Decimal | None = None
    because: str = ""
    how: str = ""
    band: str = ""
    band_words: str = ""
    remarks: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.kind is Kind.VALUE) != (self.value is not None):
            raise ValueError(f"a value belongs to kind value and to no other: {self.kind}, {self.value}")
        if self.kind is not Kind.VALUE and not self.because:
            raise ValueError(f"exam {self.exam_id}: {self.kind} without the reason")


@dataclass(frozen=True)
class Break:
    """A place where the line is not drawn because what stands before and after may not be compared."""

    before: Seen
    after: Seen
    reasons: tuple[str, ...]

    @property
    def at(self) -> datetime:
        """Halfway between the two exams."""
        return self.before.at + (self.after.at - self.before.at) / 2

    @property
    def height(self) -> Decimal:
        """Halfway between the two values: where the line would have run."""
        assert self.before.value is not None and self.after.value is not None
        return (self.before.value + self.after.value) / 2


@dataclass(frozen=True)
class Series:
    """Everything seen of one measure, oldest first, and how it is drawn.

    `stretches` are runs of values that may be joined by a line; `breaks` stand between two stretches;
    `not_points` are the exams that gave no value, each with its reason.
    """

    measure: Measure
    seen: tuple[Seen, ...]
    stretches: tuple[tuple[Seen, ...], ...]
    breaks: tuple[Break, ...]

    @property
    def not_points(self) -> tuple[Seen, ...]:
        return tuple(one for one in self.seen if one.kind is not Kind.VALUE)


ReasonsBetween = Callable[[Seen, Seen], tuple[str, ...]]


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
    places = [place for place, one in enumerate(ordered) if one.kind is Kind.VALUE]
    stretches = [[ordered[places[0]]]] if places else []
    breaks = []
    for before, after in pairwise(places):
        earlier, later = ordered[before], ordered[after]
        reasons = reasons_between(earlier, later) + _unmeasurable(ordered[before + 1 : after])
        if reasons:
            breaks.append(Break(earlier, later, reasons))
            stretches.append([later])
        else:
            stretches[-1].append(later)
    return Series(measure, ordered, tuple(tuple(run) for run in stretches), tuple(breaks))


def last_comparable(series: Series, reasons_between: ReasonsBetween) -> tuple[Seen, Seen] | None:
    """The newest value and the latest earlier one it may be compared with; None if there is no such pair.

    The pair need not be neighbours: after one exam by another technique, the exam before that one may be
    comparable again.
    """
    values = [one for one in series.seen if one.kind is Kind.VALUE]
    if not values:
        return None
    newest = values[-1]
    for earlier in reversed(values[:-1]):
        if not reasons_between(earlier, newest):
            return earlier, newest
    return None


def _unmeasurable(between: Sequence[Seen]) -> tuple[str, ...]:
    return tuple(
        f"{one.because} on {day(one.at)}"
        for one in between
        if one.kind in (Kind.NOT_OCCLUDABLE, Kind.NO_SIGNAL)
    )


def day(at: date) -> str:
    """A date as every page writes it: 3 Nov 2026."""
    return f"{at.day} {at:%b %Y}"
