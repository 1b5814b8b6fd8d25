"""How a text table is laid out: separator, decimal sign, where the numbers begin, names of columns."""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from enum import Enum

from exams.traces.files.kinds import MOST_CHANNELS, TraceFileError
from exams.traces.files.naming import is_unit, name_and_unit

# A preamble of a recorder may be long; the table must begin within this much of the file.
HEAD_BYTES = 1 << 16
LONGEST_LINE = 8192
# Enough to see the habits of a table, little enough to cost nothing beside reading it.
_JUDGED_LINES = 40

STANDARD_NAMES = ("time_s", "cuff_mmhg", "ppg")
MISSING = frozenset({"", "nan", "na", "n/a", "n.a.", "null", "none", "nil", "-", "--", "---", "?", "*", "."})

POINT = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
COMMA = re.compile(r"[+-]?(?:\d+(?:,\d+)?|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
# A time of day, with or without a date; hours may be missing: 10:22:33.120, 22:33,5.
CLOCK = re.compile(
    r"(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4}[ T]+)?(?:(\d{1,2}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)"
    r"(?:Z|[+-]\d{2}:?\d{2})?",
    re.ASCII,
)
_COMMENT = re.compile(r"\s*(?:#|%|//)+")
# Where two tables fit equally well, the first is meant: a tab is never part of a number or a name.
_CANDIDATES = (("\t", False), (";", False), ("|", False), (",", False), (" ", False))
_HERTZ = re.compile(r"(?:sampl|rate|freq|abtast|fs\b)[^\n]{0,60}?(\d+(?:[.,]\d+)?)\s*hz\b", re.IGNORECASE)


class Cell(Enum):
    NUMBER = "number"
    CLOCK = "clock"
    MISSING = "missing"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class Layout:
    """The habits of one table.

    ``begins`` is the byte at which the first row of numbers starts. ``cells`` says for each column what most
    of its cells are. ``first`` holds the first rows as written; ``sampling_hz`` what the preamble says.
    """

    separator: str
    decimal_comma: bool
    begins: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    cells: tuple[Cell, ...]
    first: tuple[tuple[str, ...], ...]
    sampling_hz: float | None

    @property
    def standard(self) -> bool:
        """The header reads time_s, cuff_mmhg, ppg: nothing is left to ask."""
        return self.names == STANDARD_NAMES


def standard_layout(text: bytes) -> Layout | None:
    """The layout of a table whose first line reads exactly time_s,cuff_mmhg,ppg, without looking further."""
    end = text.find(b"\n", 0, 64)
    if end < 0 or text[:end].strip().decode(errors="replace") != ",".join(STANDARD_NAMES):
        return None
    return Layout(",", False, end + 1, STANDARD_NAMES, ("", "", ""), (Cell.NUMBER,) * 3, (), None)


def find_layout(text: bytes, *, separator: str = "", decimal_comma: bool = False) -> Layout:
    """The layout of a table in UTF-8; with ``separator`` given, only that and its decimal sign are tried.

    Raises
    ------
    TraceFileError
        ``no_table`` or ``too_many_channels``.
    """
    head = text[:HEAD_BYTES]
    whole = len(head) == len(text)
    lines = head.decode(errors="replace").split("\n")
    if not whole:
        lines.pop()  # cut anywhere
    if not lines or max(len(line) for line in lines) > LONGEST_LINE:
        raise TraceFileError(
            "no_table",
            "The lines of this file are too long for a table of a recording. Save it again as CSV.",
        )
    candidates = [(separator, decimal_comma)] if separator else _candidates(head)
    tables = [found for one in candidates if (found := _Table.find(lines, *one))]
    if not tables:
        raise TraceFileError(
            "no_table",
            "No table of numbers was found in this file. It needs a column with the cuff pressure and one "
            "with the signal, better also the time, one line for each sample.",
        )
    best = max(tables, key=lambda table: table.score)
    if len(best.cells) > MOST_CHANNELS:
        raise TraceFileError(
            "too_many_channels",
            f"The table has {len(best.cells)} columns; at most {MOST_CHANNELS} are read. "
            "Export only time, cuff pressure and signal.",
        )
    return best.layout(lines)


def _candidates(head: bytes) -> list[tuple[str, bool]]:
    present = [one for one in _CANDIDATES if one[0].encode() in head]
    # After the points, so that a table of whole numbers counts as one with points.
    commas = [(separator, True) for separator, _ in present if separator != "," or b'"' in head]
    return present + (commas if b"," in head else [])


def split(line: str, separator: str) -> list[str]:
    """The cells of one line without their quotes; an unclosed quote ends with the line."""
    if separator == " ":
        return [cell.strip('"') for cell in line.split()]
    if '"' in line:
        try:
            cells = next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        except csv.Error:
            return []
        return [cell.strip() for cell in cells]
    return [cell.strip() for cell in line.split(separator)]


def kind_of(cell: str, number: re.Pattern[str]) -> Cell:
    if number.fullmatch(cell):
        return Cell.NUMBER
    if cell.lower() in MISSING:
        return Cell.MISSING
    if ":" in cell and CLOCK.fullmatch(cell):
        return Cell.CLOCK
    return Cell.TEXT


@dataclass(frozen=True, slots=True)
class _Table:
    """The lines of numbers that one separator and one decimal sign find."""

    separator: str
    decimal_comma: bool
    first_line: int
    cells: tuple[Cell, ...]
    rows: tuple[tuple[str, ...], ...]
    score: float

    @classmethod
    def find(cls, lines: list[str], separator: str, decimal_comma: bool) -> _Table | None:
        number = COMMA if decimal_comma else POINT
        found: list[tuple[int, list[str], list[Cell]]] = []
        for index, line in enumerate(lines):
            if separator not in line or _COMMENT.match(line):
                continue
            cells = split(line, separator)
            kinds = [kind_of(cell, number) for cell in cells]
            if _is_row(kinds):
                found.append((index, cells, kinds))
                if len(found) == _JUDGED_LINES + 20:  # the preamble may have cost a few
                    break
        if not found:
            return None
        width = Counter(len(cells) for _, cells, _ in found).most_common(1)[0][0]
        rows = [one for one in found if len(one[1]) == width]
        main = tuple(
            Counter(kinds[column] for _, _, kinds in rows).most_common(1)[0][0] for column in range(width)
        )
        # A line of the preamble may look like a row; where a column of numbers holds a word, it is none.
        rows = [one for one in rows if not _foreign(one[2], main)]
        if not rows:
            return None
        return cls(
            separator=separator,
            decimal_comma=decimal_comma,
            first_line=rows[0][0],
            cells=main,
            rows=tuple(tuple(cells) for _, cells, _ in rows[:_JUDGED_LINES]),
            score=sum(1 - kinds.count(Cell.TEXT) / width for _, _, kinds in rows),
        )

    def layout(self, lines: list[str]) -> Layout:
        before = lines[: self.first_line]
        names, units = _names(before, self.separator, len(self.cells))
        said = _HERTZ.search("\n".join(before))
        return Layout(
            separator=self.separator,
            decimal_comma=self.decimal_comma,
            begins=sum(len(line.encode()) + 1 for line in before),
            names=names,
            units=units,
            cells=self.cells,
            first=self.rows[:5],
            sampling_hz=float(said[1].replace(",", ".")) if said else None,
        )


def _is_row(kinds: list[Cell]) -> bool:
    numbers = kinds.count(Cell.NUMBER) + kinds.count(Cell.CLOCK)
    return numbers >= 2 and kinds.count(Cell.NUMBER) >= 1 and numbers > kinds.count(Cell.TEXT)


def _foreign(kinds: list[Cell], main: tuple[Cell, ...]) -> bool:
    return any(kind is Cell.TEXT and usual is not Cell.TEXT for kind, usual in zip(kinds, main, strict=True))


def _names(before: list[str], separator: str, width: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and units from the one or two lines above the numbers; "" where there are none."""
    above = [line for line in before if line.strip()][-2:]
    rows = [_header_cells(line, separator, width) for line in above]
    nothing = ("",) * width
    last = rows[-1] if rows else None
    if last is None:
        return nothing, nothing
    if len(rows) == 2 and rows[0] and all(is_unit(cell) or not cell for cell in last):
        return tuple(rows[0]), tuple(cell.strip("()[] ") for cell in last)
    named = [name_and_unit(cell) for cell in last]
    if tuple(cell.strip() for cell in last) == STANDARD_NAMES:
        return STANDARD_NAMES, ("s", "mmHg", "")
    return tuple(name for name, _ in named), tuple(unit for _, unit in named)


def _header_cells(line: str, separator: str, width: int) -> list[str] | None:
    plain = _COMMENT.sub("", line, count=1) if _COMMENT.match(line) else line
    ways = [split(plain, separator)]
    if separator == " ":  # names may hold single blanks where the numbers stand apart
        ways.append([cell.strip('" ') for cell in re.split(r"\s{2,}|\t", plain.strip())])
    for cells in ways:
        while len(cells) > width and not cells[-1]:
            cells.pop()
        cells += [""] * (width - len(cells)) if 2 <= len(cells) < width else []
        texts = sum(kind_of(cell, POINT) is Cell.TEXT for cell in cells)
        if len(cells) == width and texts:
            return cells
    return None
