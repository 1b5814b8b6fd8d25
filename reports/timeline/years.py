"""Both limbs over the years: what one page of the limb timeline shows. Pure, like `series`."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from reports.timeline.series import Measure, Series


@dataclass(frozen=True)
class Limit:
    """A limit of the criteria, drawn as a named line. `value` is in the measure's unit."""

    measure: Measure
    value: Decimal
    words: str


@dataclass(frozen=True)
class Event:
    """A dated fact of a limb: a flag on the axis from `start` to `end`, or to today while it lasts."""

    kind: str
    words: str
    start: date
    end: date | None
    note: str = ""


@dataclass(frozen=True)
class Noise:
    """Between two days: from `low` to `high`, in the measure's unit, nothing has surely changed."""

    start: date
    end: date
    low: Decimal
    high: Decimal


@dataclass(frozen=True)
class Change:
    """The newest value against the last comparable one, in words.

    `verdict` is "within noise", "likely fall" or "likely rise", else no verdict. `since` is the day
    of the value compared with, None where there is none. `skipped` says why the value just before is not
    joined to the newest. `over_years` is the newest value against the first of its line, where that is beyond
    noise: a slow fall stays within noise from one exam to the next. `brief` is `words` without the two days
    and values, for a table where they stand beside it.
    """

    words: str
    verdict: str = ""
    since: date | None = None
    noise: Noise | None = None
    skipped: tuple[str, ...] = ()
    over_years: "Change | None" = None
    brief: str = ""

    @property
    def is_beyond(self) -> bool:
        """Whether it is more than repeat measurements differ by."""
        return self.verdict in ("likely fall", "likely rise")


@dataclass(frozen=True)
class LimbYears:
    """One limb: its four series, its events, and what has changed."""

    word: str
    series: Mapping[Measure, Series]
    events: tuple[Event, ...] = ()
    changes: Mapping[Measure, Change] = field(default_factory=dict)

    @property
    def key(self) -> str:
        return self.word.lower()


@dataclass(frozen=True)
class Years:
    """Both limbs, RIGHT first, and the criteria under which they are shown."""

    limbs: tuple[LimbYears, LimbYears]
    limits: tuple[Limit, ...]
    criteria: str
    today: date
