"""What the limb timeline says in words beside its figures. Pure."""

from dataclasses import dataclass
from datetime import date

from django.utils.safestring import SafeString

from exams.hemodynamics import Side, Verdict
from reports.timeline.figure import FIGURES, NAMES, TITLES, break_numbers, dated_words
from reports.timeline.lean import year_rows
from reports.timeline.plain import SIDES
from reports.timeline.record import since_words
from reports.timeline.series import Absence, Measure, NoValue, Seen, Series, day
from reports.timeline.table import Row, rows_of
from reports.timeline.years import Event, LimbYears, Years


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
class ChangeLine:
    """One measure: what has changed, its slope, and the dates at which limits would be crossed."""

    words: str
    more: tuple[str, ...]


@dataclass(frozen=True)
class LimbWords:
    """One limb beside and under the figures: where it stands, changes, events and the table's rows."""

    key: str
    word: str
    lead: str
    baseline: str
    changes: tuple[ChangeLine, ...]
    events: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def table(self) -> SafeString:
        """The rows as the page shows them."""
        return year_rows(self.rows, len(Measure))


def figures_of(years: Years) -> tuple[Figure, ...]:
    """Pressures and indices, RIGHT first."""
    return tuple(
        Figure(key, TITLES[key], tuple(_panel(limb, measures) for limb in years.limbs))
        for key, measures in FIGURES.items()
    )


def limbs_of(years: Years, newest: int | None = None, listed: Years | None = None) -> tuple[LimbWords, ...]:
    """Both limbs, RIGHT first, with a row an exam: of the `newest` alone, or of the exams of `listed`."""
    of_rows = listed or years
    return tuple(
        LimbWords(
            limb.key,
            limb.word,
            lead_with_since(limb, side, years.today),
            limb.baseline,
            tuple(_change_line(limb, measure) for measure in Measure),
            tuple(event_words(limb, event) for event in limb.events),
            rows_of(rows, of_rows.in_error, newest, limb),
        )
        for side, limb, rows in zip(SIDES, years.limbs, of_rows.limbs, strict=True)
    )


def _change_line(limb: LimbYears, measure: Measure) -> ChangeLine:
    change = limb.changes.get(measure)
    more = (change.slope, *change.crossings) if change else ()
    return ChangeLine(change_words(limb, measure), tuple(filter(None, more)))


def lead_with_since(limb: LimbYears, side: Side, today: date) -> str:
    """The same as `lead_of`, after what was done to the limb since its newest exam."""
    days = [one.at.date() for series in limb.series.values() for one in series.seen]
    since = since_words(limb.events, side, max(days), today) if days else ""
    return f"{since} {lead_of(limb)}".strip()


def lead_of(limb: LimbYears) -> str:
    """One sentence: where the limb stands, and whether anything has changed beyond noise.

    A toe, or an ankle, that gave no pressure when it was last tried is said first: an older number would
    otherwise stand for a foot that has lost its flow since.
    """
    said_first = {Measure.TOE_PRESSURE: tuple(Absence), Measure.ANKLE_PRESSURE: (Absence.NO_SIGNAL,)}
    for measure, which in said_first.items():
        last = _last_tried(limb.series[measure])
        if isinstance(last, NoValue) and last.absence in which:
            points = limb.series[measure].points
            before = f"; before that {points[-1].shown} on {day(points[-1].at)}" if points else ""
            return f"{_capital(last.because)} on {day(last.at)}{before}."
    followed = (Measure.TOE_PRESSURE, Measure.TOE_BRACHIAL_INDEX, Measure.ANKLE_BRACHIAL_INDEX)
    known = next((measure for measure in followed if limb.series[measure].points), None)
    if known is None:
        return "No value yet."
    newest = limb.series[known].points[-1]
    stands = f"{_capital(NAMES[known])} {newest.shown} ({newest.band_words}) on {day(newest.at)}"
    beyond = [_beyond(limb, measure) for measure in followed]
    return f"{stands}; {next(filter(None, beyond), _not_beyond(limb, known))}."


def _last_tried(series: Series) -> Seen | None:
    tried = [one for one in series.seen if not (isinstance(one, NoValue) and one.absence is Absence.NOT_MADE)]
    return tried[-1] if tried else None


def _beyond(limb: LimbYears, measure: Measure) -> str:
    """A trend word the record has earned, or the newest value that asks for a repeat; "" if neither."""
    change = limb.changes.get(measure)
    if change is None or change.since is None:
        return ""
    if change.verdict in (Verdict.LIKELY_FALL, Verdict.LIKELY_RISE):
        return f"{NAMES[measure]} {change.verdict.words} since {day(change.since)}"
    if change.verdict is Verdict.SEEN_ONCE:
        return f"{NAMES[measure]} differs from {day(change.since)} by {change.verdict.words}"
    return ""


def _not_beyond(limb: LimbYears, measure: Measure) -> str:
    change = limb.changes.get(measure)
    if change and change.since:
        return f"no change beyond noise since {day(change.since)}"
    return "nothing earlier that may be compared"


def change_words(limb: LimbYears, measure: Measure) -> str:
    """One sentence: changed, within noise, not comparable and why, or nothing earlier to compare with."""
    name = _capital(NAMES[measure])
    change = limb.changes.get(measure)
    if change is None:
        points = limb.series[measure].points
        if not points:
            return f"{name}: no value yet."
        return f"{name}: {points[0].shown} on {day(points[0].at)}, nothing earlier to compare with."
    return f"{name}. {change.whole}"


def event_words(limb: LimbYears, event: Event) -> str:
    """ "RIGHT: open wound from 3 Mar 2024 to 1 Jun 2024"; what was done once has one date."""
    return f"{limb.word}: {dated_words(event)}"


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
    name, of = _capital(NAMES[series.measure]), series.counted
    if not series.points:
        return f"{name}: no value in {_counted(of.absences, 'exam')}."
    newest = series.points[-1]
    parts = [f"{name}: {_counted(of.values, 'value')}, newest {newest.shown} on {day(newest.at)}"]
    if of.breaks:
        parts.append(_counted(of.breaks, "break"))
    if of.absences:
        parts.append(f"{_counted(of.absences, 'exam')} without a value")
    return "; ".join(parts) + "."


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
