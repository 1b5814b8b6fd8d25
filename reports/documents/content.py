"""What a report says, frozen: words and numbers exactly as printed, so that it can be printed again alike.

Everything a person reads on the page is decided before this is made; the template only lays it out. Times are
already in the clinic's zone and written as words.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

from exams.traces.thumbnail import Sketch
from exams.visits.ladder import Standing

Content = TypeVar("Content")

HANDED_OVER = "Handed over."
IN_ERROR = "Raised in error."
TAKEN_OVER = "Taken over by a graver finding of the same limb."
# What the head of a page holds beside the longest name the record allows.
HEAD_LETTERS = 150
# Letters of name and identifiers that stand, with birth date and sex, on two lines of the head.
TWO_LINES_OF_LETTERS = 110
_LATER = "added later"


def added_later() -> Any:
    """A part that reports frozen by earlier versions lack: they are printed without it, as they were."""
    return field(default=(), metadata={_LATER: True})


@dataclass(frozen=True, slots=True)
class Fact:
    """One labelled line."""

    label: str
    words: str


@dataclass(frozen=True, slots=True)
class Identity:
    """Whose report it is: enough to be unique."""

    name: str
    birth_date: str
    sex: str
    identifiers: tuple[str, ...]

    @property
    def on_every_page(self) -> tuple[str, ...]:
        """The identifiers that fit in the head of every page: always the first."""
        fitting = [self.identifiers[0]]
        for one in self.identifiers[1:]:
            if sum(map(len, fitting)) + len(one) <= HEAD_LETTERS:
                fitting.append(one)
        return tuple(fitting)

    @property
    def needs_a_tall_head(self) -> bool:
        """Whether the head of every page takes a third line, and so a page with more room above its text."""
        return len(self.name) + sum(map(len, self.on_every_page)) > TWO_LINES_OF_LETTERS

    @property
    def on_the_first_page_only(self) -> tuple[str, ...]:
        return tuple(one for one in self.identifiers if one not in self.on_every_page)


@dataclass(frozen=True, slots=True)
class ClinicFacts:
    name: str
    address: str
    phone: str


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One attempt. ``struck``: replaced by a later entry; ``notes`` say by whom and why."""

    side: str
    site: str
    attempt: str
    shown: str
    technique: str
    at: str
    struck: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RecordingFigure:
    """The recording behind a reading: its picture with the mark, and beside it the same in words.

    ``shown`` is the reading as the report says it elsewhere, and that it was corrected by hand where it was.
    """

    place: str
    shown: str
    facts: tuple[Fact, ...]
    sketch: Sketch


@dataclass(frozen=True, slots=True)
class Cell:
    """A finding of one limb. ``band`` is the code by which the pattern beside its words is chosen."""

    shown: str
    interval: str = ""
    band: str = ""
    band_words: str = ""


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One measure, RIGHT and LEFT, with the rule that made it. An absent limb is None."""

    label: str
    right: Cell | None
    left: Cell | None
    rule: str
    source: str

    @property
    def cells(self) -> tuple[Cell | None, Cell | None]:
        """RIGHT first."""
        return (self.right, self.left)


@dataclass(frozen=True, slots=True)
class FurtherRow:
    """One measure of a further test; ``both`` where it belongs to neither limb alone."""

    label: str
    right: Cell | None
    left: Cell | None
    both: Cell | None
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class FurtherSection:
    """One further test: what was entered, and what was found."""

    title: str
    entered: tuple[Fact, ...]
    rows: tuple[FurtherRow, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Statement:
    """A sentence about a limb ("RIGHT", "LEFT") or about the whole exam ("")."""

    limb: str
    words: str


@dataclass(frozen=True, slots=True)
class HandOverRow:
    """A critical result and what became of it."""

    limb: str
    sentence: str
    state: str
    facts: tuple[Fact, ...]

    @property
    def heading(self) -> str:
        """What the box says first: that someone must still be told, unless that is settled."""
        settled = {HANDED_OVER: "a person was told", IN_ERROR: "raised in error", TAKEN_OVER: "taken over"}
        return f"{self.limb}: {settled.get(self.state, 'a person must be told')}"


@dataclass(frozen=True, slots=True)
class ChangeRow:
    label: str
    earlier: str
    now: str
    words: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """One limb against its last comparable exam. ``none``: why there is nothing to compare with."""

    limb: str
    with_exam: str
    rows: tuple[ChangeRow, ...] = ()
    none: str = ""


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """One exam on a trend. ``value`` None: ``words`` say why. ``broken``: why no line leads here."""

    on: date
    value: Decimal | None
    low: Decimal | None = None
    high: Decimal | None = None
    words: str = ""
    broken: str = ""


@dataclass(frozen=True, slots=True)
class TrendSeries:
    name: str
    points: tuple[TrendPoint, ...]


@dataclass(frozen=True, slots=True)
class TrendLimit:
    value: Decimal
    words: str


@dataclass(frozen=True, slots=True)
class TrendEvent:
    """What happened to the limb: a flag in the lane of its kind, from `start` to `end`, or on while it lasts.

    What was done `once` is a mark, or two with a bar between where only the month or year is known. A treated
    vessel (`baseline`) is a line through the plot. `words` tell all of it.
    """

    lane: str
    start: date
    end: date
    lasts: bool
    once: bool
    baseline: bool
    words: str


@dataclass(frozen=True, slots=True)
class TrendNoise:
    """Between two days: a newest value from `low` to `high` has not surely changed."""

    start: date
    end: date
    low: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class TrendPanel:
    """The series of one limb that share a unit."""

    limb: str
    title: str
    unit: str
    series: tuple[TrendSeries, ...]
    limits: tuple[TrendLimit, ...]
    events: tuple[TrendEvent, ...] = added_later()
    noises: tuple[TrendNoise, ...] = added_later()


@dataclass(frozen=True, slots=True)
class ReportContent:
    """The whole report of one exam."""

    title: str
    subtitle: str
    status: str
    number: int
    supersedes: int | None
    exam_number: str
    clinic: ClinicFacts
    identity: Identity
    invented: bool
    conclusion: str
    exam: tuple[Fact, ...]
    conditions: tuple[Fact, ...]
    right: tuple[Standing, ...]
    left: tuple[Standing, ...]
    findings: tuple[FindingRow, ...]
    statements: tuple[Statement, ...]
    readings: tuple[ReadingRow, ...]
    recordings: tuple[RecordingFigure, ...]
    further: tuple[FurtherSection, ...]
    hand_overs: tuple[HandOverRow, ...]
    comparisons: tuple[Comparison, ...]
    trend: tuple[TrendPanel, ...]
    limitations: tuple[str, ...]
    criteria: str
    criteria_hash: str
    sources: tuple[str, ...]
    uncertainty: str
    software: str
    made: str
    made_at: str
    # The core's findings as stored, for whoever reads the report by machine.
    interpretation: Mapping[str, Any]

    @property
    def has_reading_notes(self) -> bool:
        """Whether any reading was corrected or taken against a caution: else its column is empty paper."""
        return any(row.notes for row in self.readings)


def freeze(content: Any) -> dict[str, Any]:
    """Plain lists, strings and numbers; ``thaw`` gives an equal content back."""
    return _freeze(content)


def thaw(data: Mapping[str, Any]) -> ReportContent:
    """The content that ``freeze`` wrote.

    Raises
    ------
    KeyError
        If a part is missing that its version had: a report is never printed with a silent gap.
    """
    return thaw_as(ReportContent, data)


def thaw_as(kind: type[Content], data: Mapping[str, Any]) -> Content:
    """The same for the content of another document, frozen by ``freeze`` too."""
    return _thaw(kind, data)


def content_hash(frozen: Mapping[str, Any]) -> str:
    """SHA-256 of the frozen content, in hexadecimal, whatever the order of its keys."""
    text = json.dumps(frozen, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _freeze(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: _freeze(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, tuple):
        return [_freeze(item) for item in value]
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, StrEnum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    return value


def _thaw(kind: Any, value: Any) -> Any:
    if get_origin(kind) is UnionType:
        if value is None:
            return None
        return _thaw(next(one for one in get_args(kind) if one is not NoneType), value)
    if get_origin(kind) is tuple:
        return tuple(_thaw(get_args(kind)[0], item) for item in value)
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        kept = [one for one in fields(kind) if one.name in value or not one.metadata.get(_LATER)]
        return kind(**{one.name: _thaw(hints[one.name], value[one.name]) for one in kept})
    if kind is date:
        return date.fromisoformat(value)
    if isinstance(kind, type) and issubclass(kind, Decimal | StrEnum):
        return kind(value)
    return value
