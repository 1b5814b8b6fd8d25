"""What the limb timeline says in words beside its figures. Pure."""

from dataclasses import dataclass

from reports.timeline.figure import FIGURES, NAMES, TITLES, break_numbers
from reports.timeline.series import Measure, Series, day
from reports.timeline.table import Row, rows_of
from reports.timeline.years import Change, Event, LimbYears, Years


@dataclass(frozen=True)
class BreakLine:
    """One break as listed under its figure, with the number it carries there."""

    number: int
    words: str


@dataclass(frozen=True)
class Panel:
    """One limb's half of a figure: its caption and its breaks."""

    limb: str
    word: str
    said: str
    breaks: tuple[BreakLine, ...]


@dataclass(frozen=True)
class Figure:
    key: str
    title: str
    panels: tuple[Panel, ...]


@dataclass(frozen=True)
class LimbWords:
    """One limb beside and under the figures: changes, events and the table's rows."""

    key: str
    word: str
    changes: tuple[str, ...]
    events: tuple[str, ...]
    rows: tuple[Row, ...]


def figures_of(years: Years) -> tuple[Figure, ...]:
    """Pressures and indices, RIGHT first."""
    return tuple(
        Figure(key, TITLES[key], tuple(_panel(limb, measures) for limb in years.limbs))
        for key, measures in FIGURES.items()
    )


def limbs_of(years: Years) -> tuple[LimbWords, ...]:
    """Both limbs, RIGHT first."""
    return tuple(
        LimbWords(
            limb.key,
            limb.word,
            tuple(change_words(limb, measure) for measure in Measure),
            tuple(event_words(limb, event) for event in limb.events),
            rows_of(limb),
        )
        for limb in years.limbs
    )


def lead_of(years: Years) -> str:
    """One sentence a limb, RIGHT first: the toe pressure's change, or the first index that has one."""
    return " ".join(_lead(limb) for limb in years.limbs)


def _lead(limb: LimbYears) -> str:
    for measure in (Measure.TOE_PRESSURE, Measure.TOE_BRACHIAL_INDEX, Measure.ANKLE_BRACHIAL_INDEX):
        change = limb.changes.get(measure)
        if change and change.verdict and change.since:
            # What a slow fall adds up to is what a nurse can act on.
            told = change.over_years if change.over_years and _is_beyond(change.over_years) else change
            return f"{limb.word}: {NAMES[measure]} {told.verdict} since {day(told.since or change.since)}."
    return f"{limb.word}: nothing yet that could be compared."


def _is_beyond(change: Change) -> bool:
    return change.verdict not in ("", "within noise")


def change_words(limb: LimbYears, measure: Measure) -> str:
    """One sentence: changed, within noise, not comparable and why, or nothing earlier to compare with."""
    name = _capital(NAMES[measure])
    change = limb.changes.get(measure)
    if change is None:
        points = limb.series[measure].points
        if not points:
            return f"{name}: no value yet."
        return f"{name}: {points[0].shown} on {day(points[0].at)}, nothing earlier to compare with."
    skipped = ""
    if change.since and change.skipped:
        skipped = f" The exam just before may not be compared: {'; '.join(change.skipped)}."
    over_years = f" {change.over_years.words}" if change.over_years else ""
    return f"{name}. {change.words.rstrip('.')}.{skipped}{over_years}"


def event_words(limb: LimbYears, event: Event) -> str:
    """ "RIGHT: open wound from 3 Mar 2024 to 1 Jun 2024"."""
    until = f" to {day(event.end)}" if event.end else ", not ended"
    note = f": {event.note}" if event.note else ""
    return f"{limb.word}: {event.words} from {day(event.start)}{until}{note}"


def _panel(limb: LimbYears, measures: tuple[Measure, ...]) -> Panel:
    numbers = break_numbers(limb)
    breaks = tuple(
        BreakLine(
            numbers[measure, gap.after.exam_id],
            f"{NAMES[measure]}, {day(gap.before.at)} to {day(gap.after.at)}: {'; '.join(gap.reasons)}",
        )
        for measure in measures
        for gap in limb.series[measure].breaks
    )
    return Panel(limb.key, limb.word, " ".join(_said(limb.series[measure]) for measure in measures), breaks)


def _said(series: Series) -> str:
    name = _capital(NAMES[series.measure])
    without = len(series.absences)
    if not series.points:
        return f"{name}: no value in {_counted(without, 'exam')}."
    newest = series.points[-1]
    parts = [f"{name}: {_counted(len(series.points), 'value')}, newest {newest.shown} on {day(newest.at)}"]
    if series.breaks:
        parts.append(_counted(len(series.breaks), "break"))
    if without:
        parts.append(f"{_counted(without, 'exam')} without a value")
    return "; ".join(parts) + "."


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
