"""The figures' table twin: an exam of a limb a row, every value, interval, break and reason in words."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from io import StringIO

from reports.timeline.figure import NAMES, break_numbers, in_error_words
from reports.timeline.series import Break, Measure, NoValue, Seen
from reports.timeline.years import InError, LimbYears, Years

# What the CSV says of each measure, in this order.
PARTS = (
    "",
    ", interval from",
    ", interval to",
    ", band",
    ", how",
    ", chance to be",
    ", break before, or why no value",
)


@dataclass(frozen=True)
class Cell:
    """One measure of one exam. `gap` is the break before it, with its number in the figure (0: not drawn)."""

    name: str
    seen: Seen
    gap: Break | None
    gap_number: int


@dataclass(frozen=True)
class Row:
    """One exam of one limb: ankle and toe pressure, then both indices.

    One that was entered in error has no cells, and says so in `in_error`.
    """

    exam_id: int
    on: date
    word: str
    cells: tuple[Cell, ...]
    in_error: str = ""


def rows_of(
    limb: LimbYears,
    in_error: Sequence[InError] = (),
    newest: int | None = None,
    figure: LimbYears | None = None,
) -> tuple[Row, ...]:
    """A row an exam (of the `newest` alone), newest first; those entered in error stand on their day.

    Breaks carry the numbers of the `figure`, where that draws other exams than those of the rows.
    """
    rows = _measured(limb, newest, break_numbers(figure or limb))
    cut = newest is not None and len(limb.series[Measure.TOE_PRESSURE].seen) > newest
    stubs = [
        Row(one.exam_id, one.at.date(), limb.word, (), in_error_words(one))
        for one in in_error
        if not cut or one.at.date() >= rows[-1].on
    ]
    return tuple(sorted((*rows, *reversed(stubs)), key=_day, reverse=True))


def _day(row: Row) -> date:
    return row.on


def _measured(
    limb: LimbYears, newest: int | None, numbers: Mapping[tuple[Measure, int], int]
) -> tuple[Row, ...]:
    gaps = {(measure, gap.after.exam_id): gap for measure in Measure for gap in limb.series[measure].breaks}
    seen = {(measure, one.exam_id): one for measure in Measure for one in limb.series[measure].seen}
    exams = [(one.exam_id, one.at.date()) for one in reversed(limb.series[Measure.TOE_PRESSURE].seen)]
    return tuple(
        Row(
            exam_id,
            on,
            limb.word,
            tuple(
                Cell(
                    NAMES[measure],
                    seen[measure, exam_id],
                    gaps.get((measure, exam_id)),
                    numbers.get((measure, exam_id), 0),
                )
                for measure in Measure
            ),
        )
        for exam_id, on in exams[:newest]
    )


def as_csv(years: Years) -> str:
    """The same rows for a spreadsheet, RIGHT first; a text that would start a formula is made harmless."""
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(_headings())
    for limb in years.limbs:
        for row in rows_of(limb, years.in_error):
            writer.writerow([_harmless(text) for text in _texts(row)])
    return out.getvalue()


def _headings() -> list[str]:
    return ["date", "limb"] + [f"{NAMES[measure]}{part}" for measure in Measure for part in PARTS]


def _texts(row: Row) -> Iterator[str]:
    yield row.on.isoformat()
    yield row.word
    if row.in_error:
        # Without values; each measure says why.
        yield from ("", "", "", "", "", "", row.in_error) * len(Measure)
    for cell in row.cells:
        yield from _of_cell(cell)


def _of_cell(cell: Cell) -> tuple[str, ...]:
    """As many texts as there are PARTS."""
    seen = cell.seen
    if isinstance(seen, NoValue):
        return ("", "", "", seen.band_words, "", "", seen.because)
    low, high = seen.interval or ("", "")
    reasons = "; ".join(cell.gap.reasons) if cell.gap else seen.unsure
    return (str(seen.value), str(low), str(high), seen.band_words, seen.how, "; ".join(seen.chances), reasons)


def _harmless(text: str) -> str:
    """A leading apostrophe keeps a spreadsheet from calculating what a person typed."""
    return f"'{text}" if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text
