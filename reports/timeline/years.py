"""Both limbs over the years: what one page of the limb timeline shows. Pure, like `series`."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal

from exams.hemodynamics import LimbEvent, Verdict
from reports.timeline.series import Measure, Series


@dataclass(frozen=True)
class Limit:
    """A limit of the criteria, drawn as a named line. `value` is in the measure's unit.

    `beneath` names what lies below it ("below 30", "0.90 or below") and `edge` is the first value that does
    not; both are empty for a limit that is passed upwards.
    """

    measure: Measure
    value: Decimal
    words: str
    beneath: str = ""
    edge: Decimal | None = None


@dataclass(frozen=True)
class Event:
    """A dated fact of a limb: a flag on the axis, from `start` to `end` or to today while it lasts.

    What was done once (`once`) has no length: `end` is then the last day it may have been. `dated` is its
    date as exactly as it is known, `core` the event as the core takes it, None where no number hangs on it.
    """

    kind: str
    words: str
    start: date
    end: date | None
    note: str = ""
    dated: str = ""
    once: bool = False
    core: LimbEvent | None = None


@dataclass(frozen=True)
class InError:
    """An exam that was entered in error: named on its day, counted in no line.

    `at` is in the clinic's zone; `words` say why, and who found it when.
    """

    exam_id: int
    at: datetime
    words: str


@dataclass(frozen=True)
class Noise:
    """Between two days: from `low` to `high`, in the measure's unit, nothing has surely changed."""

    start: date
    end: date
    low: Decimal
    high: Decimal


@dataclass(frozen=True)
class Forecast:
    """The day on which a limit would be crossed: what is said of it before that day, and from it on."""

    on: date
    to_come: str
    by_now: str


@dataclass(frozen=True)
class Change:
    """The newest value of a measure against the earlier ones that may be compared with it.

    `words` is the one sentence said of it on every page and in print; `since` the day of the value compared
    with, None where there is none; `skipped` the nearer exam that was passed over, and why. `slope` is one
    sentence, or why there is none; `forecasts` one a limit that the slope has earned a date for, and
    `crossings` what is said of them on the day the change is looked at.
    """

    words: str
    verdict: Verdict = Verdict.CANNOT_BE_COMPARED
    since: date | None = None
    noise: Noise | None = None
    skipped: str = ""
    slope: str = ""
    forecasts: tuple[Forecast, ...] = ()
    crossings: tuple[str, ...] = ()

    def as_of(self, today: date) -> "Change":
        """The same change, looked at on a day."""
        if not self.forecasts:
            return self
        said = (one.by_now if one.on <= today else one.to_come for one in self.forecasts)
        return replace(self, crossings=tuple(said))

    @property
    def whole(self) -> str:
        """The sentence, and the exam that was passed over."""
        return f"{self.words} {self.skipped}".strip()


@dataclass(frozen=True)
class LimbYears:
    """One limb: its four series, its events, and what has changed.

    `baseline` says since when numbers count anew, "" where no vessel was treated.
    """

    word: str
    series: Mapping[Measure, Series]
    events: tuple[Event, ...] = ()
    changes: Mapping[Measure, Change] = field(default_factory=dict)
    baseline: str = ""

    @property
    def key(self) -> str:
        return self.word.lower()


@dataclass(frozen=True)
class Years:
    """Both limbs, RIGHT first, and the criteria under which they are shown.

    `sources` are the studies behind the noise that changes are held against; `in_error` are the exams that
    were somebody else's, oldest first.
    """

    limbs: tuple[LimbYears, LimbYears]
    limits: tuple[Limit, ...]
    criteria: str
    today: date
    sources: tuple[str, ...] = ()
    in_error: tuple[InError, ...] = ()

    @property
    def exams(self) -> frozenset[int]:
        """The exams that are held here."""
        return frozenset(
            one.exam_id for limb in self.limbs for series in limb.series.values() for one in series.seen
        )
