"""CSV and its kin: a text table becomes columns of numbers."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence

import numpy as np

from exams.traces.files import clock
from exams.traces.files.kinds import (
    MOST_SAMPLES,
    ColumnPreview,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Role,
    Samples,
    TimeUnit,
    TraceFileError,
)
from exams.traces.files.layout import (
    CLOCK,
    COMMA,
    LONGEST_LINE,
    MISSING,
    POINT,
    Cell,
    Layout,
    find_layout,
    split,
    standard_layout,
)
from exams.traces.files.naming import Facts, Guess, guess
from exams.traces.files.text import as_utf8

_STANDARD = Columns(time=0, cuff=1, signal=2)


def parse_table(content: bytes, columns: Columns | None) -> ParsedTrace:
    """The trace in a text table; without ``columns`` only where they are clearly recognisable."""
    text = as_utf8(content)
    warnings: list[str] = []
    if columns is None:
        layout = standard_layout(text) or find_layout(text)
        if layout.standard:
            columns = _with_layout(_STANDARD, layout)
        else:
            facts = _facts(text, layout, warnings)
            columns = clear_columns(guess(facts, own_clock=False), layout)
            warnings.clear()  # only what concerns the three columns is said below
    else:
        layout = find_layout(text, separator=columns.separator, decimal_comma=columns.decimal_comma)
    return _trace(text, layout, columns, warnings)


def preview_table(content: bytes) -> Preview:
    text = as_utf8(content)
    layout = find_layout(text)
    warnings: list[str] = []
    facts = _facts(text, layout, warnings)
    found = guess(facts, own_clock=False)
    suggested = _suggested(found, layout)
    samples = facts[0].values.size
    hz, duration = _rate(facts, suggested, samples)
    return Preview(
        kind=FileKind.CSV,
        columns=tuple(_column(one, layout, found) for one in facts),
        samples=samples,
        sampling_hz=hz,
        duration_s=duration,
        suggested=suggested,
        questions=() if layout.standard else found.questions,
        exact=layout.standard,
        warnings=tuple(warnings),
    )


def clear_columns(found: Guess, layout: Layout | None) -> Columns:
    """The columns of a guess that left no question.

    Raises
    ------
    TraceFileError
        ``columns_unclear`` with the questions.
    """
    suggested = _suggested(found, layout)
    if found.questions or suggested is None:
        raise TraceFileError("columns_unclear", " ".join(("The columns are not clear.", *found.questions)))
    return suggested


def _with_layout(columns: Columns, layout: Layout) -> Columns:
    return Columns(
        cuff=columns.cuff,
        signal=columns.signal,
        time=columns.time,
        separator=layout.separator,
        decimal_comma=layout.decimal_comma,
    )


def _suggested(found: Guess, layout: Layout | None) -> Columns | None:
    if found.cuff is None or found.signal is None:
        return None
    return Columns(
        cuff=found.cuff,
        signal=found.signal,
        time=found.time,
        time_unit=found.time_unit,
        cuff_unit=found.cuff_unit,
        sampling_hz=layout.sampling_hz if layout and found.time is None else None,
        separator=layout.separator if layout else ",",
        decimal_comma=layout.decimal_comma if layout else False,
    )


def _column(facts: Facts, layout: Layout, found: Guess) -> ColumnPreview:
    role = {found.time: Role.TIME, found.cuff: Role.CUFF, found.signal: Role.SIGNAL}.get(facts.number)
    finite = facts.values[np.isfinite(facts.values)]
    return ColumnPreview(
        number=facts.number,
        name=facts.name,
        unit=facts.unit,
        first=tuple(row[facts.number] for row in layout.first),
        low=float(finite.min()) if finite.size else None,
        high=float(finite.max()) if finite.size else None,
        missing=int(facts.values.size - finite.size),
        role=role,
        why=found.why.get(role, "") if role else "",
    )


def _rate(facts: list[Facts], suggested: Columns | None, samples: int) -> tuple[float | None, float | None]:
    if suggested is None or suggested.time is None:
        hz = suggested.sampling_hz if suggested else None
        return hz, samples / hz if hz else None
    time = next(one.values for one in facts if one.number == suggested.time)
    time = clock.in_seconds(time, suggested.time_unit)
    time = time[np.isfinite(time)]
    step = float(np.median(np.diff(time))) if time.size > 1 else 0.0
    return (1 / step if step > 0 else None), (float(time[-1] - time[0]) if time.size else None)


def _trace(text: bytes, layout: Layout, columns: Columns, warnings: list[str]) -> ParsedTrace:
    wanted = [one for one in (columns.time, columns.cuff, columns.signal) if one is not None]
    if len(set(wanted)) != len(wanted) or not all(0 <= one < len(layout.cells) for one in wanted):
        raise TraceFileError(
            "columns_wrong",
            f"Time, cuff pressure and signal must be three different columns of the {len(layout.cells)}.",
        )
    clocks = {columns.time} if columns.time_unit is TimeUnit.CLOCK else set()
    values = _numbers(text, layout, wanted, clocks, warnings)
    if columns.time is None:
        time_s = clock.made(values[0].size, columns.sampling_hz)
    else:
        time_s = clock.in_seconds(values.pop(0), columns.time_unit)
    return clock.trace(time_s, values[0], values[1], cuff_unit=columns.cuff_unit, warnings=warnings)


def _facts(text: bytes, layout: Layout, warnings: list[str]) -> list[Facts]:
    numbers = [index for index, cell in enumerate(layout.cells) if cell is not Cell.TEXT]
    clocks: set[int | None] = {index for index in numbers if layout.cells[index] is Cell.CLOCK}
    values = _numbers(text, layout, numbers, clocks, warnings)
    return [
        Facts(number, layout.names[number], layout.units[number], one, number in clocks)
        for number, one in zip(numbers, values, strict=True)
    ]


def _numbers(
    text: bytes, layout: Layout, wanted: list[int], clocks: set[int | None], warnings: list[str]
) -> list[Samples]:
    """The wanted columns, read at once where they are clean, cell by cell where they are not."""
    body = text[layout.begins :]
    clock.too_many(body.count(b"\n", 0, len(body) - 1) + 1)
    if not clocks:
        for way in (body, _with_gaps_named(body, layout.separator)):
            read = _at_once(way, layout, wanted)
            if read is not None:
                return [read[:, index] for index in range(len(wanted))]
    return _cell_by_cell(body, layout, wanted, clocks, warnings)


def _at_once(body: bytes, layout: Layout, wanted: list[int]) -> Samples | None:
    if layout.decimal_comma:
        if layout.separator == ",":
            return None
        body = body.replace(b",", b".")
    lines = io.TextIOWrapper(io.BytesIO(body), encoding="utf-8", errors="replace")
    try:
        return np.loadtxt(
            lines,
            delimiter=None if layout.separator == " " else layout.separator,
            usecols=wanted,
            quotechar='"' if b'"' in body else None,
            comments=None,
            ndmin=2,
            max_rows=MOST_SAMPLES,
        )
    except ValueError:  # a missing cell, a word, a line that is too short
        return None


def _with_gaps_named(body: bytes, separator: str) -> bytes:
    """Missing cells written out, so that the quick way can read them too."""
    if separator == " ":
        return body
    mark = separator.encode()
    for _ in range(2):  # three separators in a row overlap
        body = body.replace(mark + mark, mark + b"nan" + mark)
    return body.replace(mark + b"\n", mark + b"nan\n").replace(b"\n" + mark, b"\nnan" + mark)


def _cell_by_cell(
    body: bytes, layout: Layout, wanted: list[int], clocks: set[int | None], warnings: list[str]
) -> list[Samples]:
    number = COMMA if layout.decimal_comma else POINT
    read = [_clock_cell if column in clocks else _number_cell(number) for column in wanted]
    lines = body.count(b"\n") + 1
    values = np.full((len(wanted), lines), np.nan)
    row = skipped = words = 0
    for cells in _rows(body, layout.separator):
        if len(cells) <= max(wanted):
            skipped += 1
            continue
        for index, column in enumerate(wanted):
            try:
                values[index, row] = read[index](cells[column])
            except ValueError:
                words += 1
        row += 1
    if row < 2 or skipped > row or words > row * len(wanted) // 2:
        raise TraceFileError(
            "no_table",
            "Most lines of this file hold no numbers where the table should be. Save it again as CSV.",
        )
    if skipped:
        warnings.append(f"Lines too short for the table, left out: {skipped}.")
    if words:
        warnings.append(f"Cells with words instead of numbers, counted as missing: {words}.")
    return [values[index, :row] for index in range(len(wanted))]


def _rows(body: bytes, separator: str) -> Iterator[Sequence[str]]:
    for line in io.TextIOWrapper(io.BytesIO(body), encoding="utf-8", errors="replace"):
        bare = line.strip("\n")
        if not bare.strip() or bare.lstrip().startswith(("#", "%", "//")):
            continue
        yield split(bare, separator) if len(bare) <= LONGEST_LINE else ()


def _number_cell(number: re.Pattern[str]):
    def read(cell: str) -> float:
        if number.fullmatch(cell):
            return float(cell.replace(",", "."))
        if cell.lower() in MISSING or cell.lower().lstrip("+-") in {"inf", "infinity"}:
            return float("nan")
        raise ValueError(cell)

    return read


def _clock_cell(cell: str) -> float:
    match = CLOCK.fullmatch(cell)
    if match is None:
        if cell.lower() in MISSING:
            return float("nan")
        raise ValueError(cell)
    hours, minutes, seconds = match.groups()
    return int(hours or 0) * 3600 + int(minutes) * 60 + float(seconds.replace(",", "."))
