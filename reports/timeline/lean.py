"""Rows that come by the dozen, put together without the template engine, in a quarter of the time.

Everything that somebody may have typed is escaped here.
"""

import re
from collections.abc import Callable, Iterable

from django.urls import reverse
from django.utils.html import escape
from django.utils.safestring import SafeString

from exams.traces.queries.pictures import TraceLink
from exams.visits.queries.exams import ExamLine
from reports.timeline.glance import MeasureLine
from reports.timeline.recordings import Recordings
from reports.timeline.series import NoValue, Point, Seen, day
from reports.timeline.table import Cell, Row

# Where the recordings of readings belong in a page kept for everybody. Nobody can type it: "<" is escaped.
BEHIND = re.compile(r"<!--behind (?P<readings>[\d ]+) on (?P<on>[^<>]+)-->")
# A number that stands for another one in an address, so that one is looked up for all rows.
_ANY = 10**15


def exam_rows(exams: Iterable[ExamLine]) -> SafeString:
    """The exams of a patient, a row each."""
    sheet, report = _addresses("visits:sheet"), _addresses("documents:exam")
    return SafeString("".join(_exam_row(one, sheet(one.exam_id), report(one.exam_id)) for one in exams))


def _exam_row(exam: ExamLine, sheet: str, report: str) -> str:
    on = day(exam.on)
    limited = ", limited" if exam.limited else ""
    because = f": {escape(exam.closed_because)}" if exam.closed_because else ""
    made = "none yet"
    if exam.measured_at:
        words = "Report" if exam.state == "reported" else "Not made yet"
        made = f'<a href="{report}">{words}<span class="visually-hidden"> of {on}</span></a>'
    return (
        f'<tr><th scope="row"><a href="{sheet}">{on}</a></th><td data-label="Type">{exam.type_label}</td>'
        f'<td data-label="State">{exam.state_label}{limited}{because}</td>'
        f'<td data-label="Measured by">{escape(exam.measured_by or "nobody yet")}</td>'
        f'<td data-label="Report">{made}</td></tr>'
    )


def measure_rows(lines: Iterable[MeasureLine]) -> SafeString:
    """The newest of each measure of a limb: a row with its value, and one with what is said of it."""
    desk, picture = _addresses("traces:desk"), _addresses("traces:thumbnail")
    return SafeString("".join(_measure_row(line) + _said_row(line, desk, picture) for line in lines))


def _measure_row(line: MeasureLine) -> str:
    seen = line.seen
    if isinstance(seen, Point):
        interval = escape(seen.interval_shown or seen.unsure)
        cells = (
            f'<td class="number" data-label="Value">{escape(seen.shown)}</td>'
            f'<td class="number" data-label="95 % interval">{interval}</td>'
            f'<td data-label="Band">{_band(seen)}</td><td data-label="Measured">{day(seen.at)}</td>'
        )
    elif isinstance(seen, NoValue):
        cells = (
            f'<td data-label="Value" colspan="2">{escape(seen.because)}</td>'
            f'<td data-label="Band">{_band(seen) if seen.band else ""}</td>'
            f'<td data-label="Measured">{day(seen.at)}</td>'
        )
    else:
        missing = f"; {escape(line.missing)}" if line.missing else ""
        cells = f'<td data-label="Value" colspan="4">never measured{missing}</td>'
    return f'<tr><th scope="row">{_capital(line.name)}</th>{cells}</tr>'


def _said_row(line: MeasureLine, desk: Callable[[int], str], picture: Callable[[int], str]) -> str:
    how = line.seen.how if isinstance(line.seen, Point) else ""
    if not (how or line.missing or line.change or line.recordings):
        return ""
    said = f'<span class="soft">{escape(_capital(how))}</span> ' if how else ""
    said += f"<span>{escape(line.change.whole)}</span> " if line.change else ""
    said += f"<span>Not measured since: {escape(line.missing)}</span> " if line.seen and line.missing else ""
    if line.recordings:
        links = "".join(_trace(one, desk, picture) for one in line.recordings)
        said += f'<span class="timeline-traces">{links}</span>'
    return f'<tr class="timeline-change"><td></td><td colspan="4">{said}</td></tr>'


def _trace(one: TraceLink, desk: Callable[[int], str], picture: Callable[[int], str]) -> str:
    shown = ""
    if one.drawn:
        shown = f'<img src="{picture(one.trace_id)}" alt="" loading="lazy" width="240" height="96">'
    by_hand = f": {escape(one.by_hand)}" if one.by_hand else ""
    return f'<a href="{desk(one.trace_id)}">{shown}Trace of {escape(one.place)}{by_hand}</a>'


def year_rows(rows: Iterable[Row], measures: int) -> SafeString:
    """The exams of one limb on the timeline, a row each."""
    sheet = _addresses("visits:sheet")
    return SafeString("".join(_year_row(row, measures, sheet) for row in rows))


def with_recordings(page: str, recordings: Recordings) -> SafeString:
    """The page with the recordings that somebody may see put where `year_rows` named their readings."""
    desk = _addresses("traces:desk")

    def links(found: re.Match[str]) -> str:
        behind = (recordings.get(int(number)) for number in found["readings"].split())
        return "".join(_year_trace(one, found["on"], desk) for one in behind if one)

    return SafeString(BEHIND.sub(links, page))


def _year_row(row: Row, measures: int, sheet: Callable[[int], str]) -> str:
    on = day(row.on)
    if row.in_error:
        cells = f'<td class="timeline-in-error" colspan="{measures}">{escape(row.in_error)}</td>'
    else:
        cells = "".join(_year_cell(cell, on) for cell in row.cells)
    return f'<tr><th scope="row"><a href="{sheet(row.exam_id)}">{on}</a></th>{cells}</tr>'


def _year_cell(cell: Cell, on: str) -> str:
    gap = ""
    if cell.gap:
        reasons = escape("; ".join(cell.gap.reasons))
        number = f"//{cell.gap_number} " if cell.gap_number else ""
        gap = f'<small class="break">{number}break: {reasons}</small>'
    readings = " ".join(map(str, cell.seen.reading_ids))
    behind = f"<!--behind {readings} on {on}-->" if readings else ""
    return f'<td data-label="{_capital(cell.name)}">{seen_words(cell.seen)}{gap}{behind}</td>'


def _year_trace(one: TraceLink, on: str, desk: Callable[[int], str]) -> str:
    by_hand = f" ({escape(one.by_hand)})" if one.by_hand else ""
    return (
        f'<small><a href="{desk(one.trace_id)}">Trace of {escape(one.place)}'
        f'<span class="visually-hidden">, {on}</span></a>{by_hand}</small>'
    )


def seen_words(seen: Seen) -> SafeString:
    """One value with its interval, band and conditions, or why there is none."""
    if isinstance(seen, NoValue):
        return escape(seen.because)
    said = f"<strong>{escape(seen.shown)}</strong>"
    said += f" ({escape(seen.interval_shown)})" if seen.interval else ""
    said += f"<small>{_band(seen)}</small>" if seen.band else ""
    said += f"<small>{escape(seen.how)}</small>"
    said += "".join(f"<small>chance to be {escape(one)}</small>" for one in seen.chances)
    said += f"<small>no interval: {escape(seen.unsure)}</small>" if seen.unsure else ""
    return SafeString(said)


def _band(seen: Seen) -> str:
    """As `parts/band.html`."""
    return (
        f'<span class="band" data-band="{escape(seen.band)}"><span class="swatch" aria-hidden="true"></span>'
        f"<span>{escape(seen.band_words)}</span></span>"
    )


def _addresses(name: str) -> Callable[[int], str]:
    """The address of that name for a number."""
    before, after = reverse(name, args=[_ANY]).split(str(_ANY))
    return lambda number: f"{before}{number}{after}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
