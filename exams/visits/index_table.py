"""Indices of a whole table of exams, for research and audit: CSV in, CSV out, a block of rows at a time.

Only pressures and codes pass through here; nothing is looked up or stored.
"""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import TextIO

import numpy as np

from exams.hemodynamics import (
    ARM_COLUMNS,
    ARM_LIMITS_HALF_MMHG,
    FIRST_LEFT,
    FIRST_RIGHT,
    FIRST_UNKNOWN,
    FOOT_COLUMNS,
    FOOT_LIMITS_HALF_MMHG,
    NO,
    NO_SIGNAL,
    NOT_ASKED,
    NOT_OBTAINED,
    NOT_OCCLUDABLE,
    NOT_TRIED,
    PRESSURE,
    REPEAT_COLUMNS,
    UNKNOWN,
    VOID,
    YES,
    Criteria,
    TableLimb,
    read_table,
)

INPUT_COLUMNS = ("exam_id", "first_arm", "diabetes", *ARM_COLUMNS, *FOOT_COLUMNS)
OPTIONAL_COLUMNS = ("kidney_disease", *REPEAT_COLUMNS)
SITE_COLUMNS = (*ARM_COLUMNS, *FOOT_COLUMNS, *REPEAT_COLUMNS)
LIMB_COLUMNS = ("abi", "abi_band", "tbi", "tbi_band", "toe_band", "ankle_band", "pattern", "flags")
OUTPUT_COLUMNS = (
    "exam_id",
    "criteria",
    "denominator_mmhg",
    "arm_difference_mmhg",
    *(f"{side}_{name}" for side in ("right", "left") for name in LIMB_COLUMNS),
    "error",
)
ROWS_AT_A_TIME = 4096
LONGEST_LINE = 65_536
NUMBER = re.compile(r"\d{1,4}(\.\d{1,3})?")
STOPPED_AT = "not_occludable_at_"
WORDS = {
    "": NOT_TRIED,
    "not_done": NOT_OBTAINED,
    "no_signal": NO_SIGNAL,
    "not_occludable": NOT_OCCLUDABLE,
}
ANSWERS = {"": UNKNOWN, "no": NO, "yes": YES}
ARMS = {"": FIRST_UNKNOWN, "right": FIRST_RIGHT, "left": FIRST_LEFT}
# A spreadsheet would run a cell that starts with one of these.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


class TableError(Exception):
    """The table as a whole cannot be read or written; the text says what to do."""


@dataclass(slots=True)
class Summary:
    """What was done: rows written, how many have something in ``error``, and the columns not read."""

    rows: int = 0
    with_error: int = 0
    left_aside: tuple[str, ...] = ()


def write_index_table(source: Path, target: Path, criteria: Criteria) -> Summary:
    """Read ``source``, write ``target``; the target appears only when it is whole.

    Raises
    ------
    TableError
        If the file cannot be read as such a table, or the target cannot be written.
    """
    if source.resolve() == target.resolve():
        raise TableError("The output would overwrite the input. Give another --out.")
    try:
        # A byte that is not UTF-8 spoils its own cell; it must not end the table.
        file = source.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except OSError as error:
        raise TableError(f"{source} cannot be read: {error.strerror}. Nothing was written.") from None
    with file:
        try:
            return _write_whole(file, source, target, criteria)
        except OSError as error:
            raise TableError(f"{target} cannot be written: {error.strerror}. Nothing was written.") from None


def _write_whole(file: TextIO, source: Path, target: Path, criteria: Criteria) -> Summary:
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="") as out:
            summary = _copy(file, source, out, criteria)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return summary


def _copy(file: TextIO, source: Path, out: TextIO, criteria: Criteria) -> Summary:
    lines = _lines(file)
    columns = _header(lines, source)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(OUTPUT_COLUMNS)
    known = {*INPUT_COLUMNS, *OPTIONAL_COLUMNS}
    summary = Summary(left_aside=tuple(name for name in columns if name not in known))
    cells = CellReader()
    for block in _blocks(lines, columns):
        rows = _interpreted(block, columns, criteria, cells)
        writer.writerows(rows)
        summary.rows += len(rows)
        summary.with_error += sum(1 for row in rows if row[-1])
    return summary


def _lines(file: TextIO) -> Iterator[str]:
    """The lines that are not blank; one that is too long is cut to LONGEST_LINE signs, the rest unread.

    Line by line, so that a quote left open spoils its own row and not those after it.
    """
    while line := file.readline(LONGEST_LINE):
        rest = line
        while len(rest) == LONGEST_LINE and not rest.endswith(("\n", "\r")):
            rest = file.readline(LONGEST_LINE)
        if line.strip():
            yield line


def _split(line: str) -> tuple[list[str], str]:
    """The cells of a line, and what is wrong with the row ("" if nothing)."""
    if len(line) >= LONGEST_LINE:
        return [], f"row: longer than {LONGEST_LINE} characters"
    try:
        return next(csv.reader([line.rstrip("\r\n")], strict=True)), ""
    except csv.Error as error:
        return [], f"row: cannot be read as CSV ({error})"


def _header(lines: Iterator[str], source: Path) -> list[str]:
    line = next(lines, None)
    if line is None:
        raise TableError(f"{source} is empty: the first line must name the columns.")
    if _not_utf8(line):
        raise TableError(f"{source} is not UTF-8 text. Save it as UTF-8. Nothing was written.")
    first, wrong = _split(line)
    if wrong:
        raise TableError(f"The first line of {source} names no columns ({wrong}). Nothing was written.")
    columns = [name.strip().lower() for name in first]
    known = {*INPUT_COLUMNS, *OPTIONAL_COLUMNS}
    twice = sorted({name for name in columns if columns.count(name) > 1})
    unknown = sorted(set(columns) - known)
    if twice:
        raise TableError(f"Column named twice: {', '.join(twice)}. Keep one of each. Nothing was written.")
    if not set(columns) & {*ARM_COLUMNS, *FOOT_COLUMNS}:
        raise TableError(
            f"{source} has no pressure column. The first line must name columns, separated by commas, out "
            f"of: {', '.join(INPUT_COLUMNS)}. Nothing was written."
        )
    misspelt = {
        name: match[0] for name in unknown if (match := get_close_matches(name, known, 1, cutoff=0.8))
    }
    if misspelt:
        meant = "; ".join(f"{name} (did you mean {known_name}?)" for name, known_name in misspelt.items())
        raise TableError(
            f"Unknown column: {meant}. Rename or remove it, so that no pressure is left out by a slip. "
            f"Known: {', '.join((*INPUT_COLUMNS, *OPTIONAL_COLUMNS))}. Nothing was written."
        )
    return columns


@dataclass(slots=True)
class Block:
    """Some rows as read: ``cells[column]`` and, by row, what was wrong with the row as a whole."""

    cells: dict[str, list[str]]
    rows: int = 0
    bad_rows: dict[int, str] = field(default_factory=dict)


def _blocks(lines: Iterator[str], columns: list[str]) -> Iterator[Block]:
    block = Block({name: [] for name in columns})
    for line in lines:
        row, wrong = _split(line)
        if len(row) != len(columns):
            wrong = wrong or f"row: {len(row)} cells where the first line names {len(columns)}"
            row = [*row, *[""] * len(columns)][: len(columns)]
        if wrong:
            block.bad_rows[block.rows] = wrong
        for name, cell in zip(columns, row, strict=True):
            block.cells[name].append(cell)
        block.rows += 1
        if block.rows == ROWS_AT_A_TIME:
            yield block
            block = Block({name: [] for name in columns})
    if block.rows:
        yield block


class CellReader:
    """Reads a pressure cell; the same text is read once. The store of known texts is bounded."""

    MOST_KNOWN = 20_000

    def __init__(self) -> None:
        self.known: dict[tuple[bool, str], tuple[int, int, str]] = {}

    def read(self, text: str, *, arm: bool) -> tuple[int, int, str]:
        """Code, half mmHg, and what is wrong ("" if nothing)."""
        answer = self.known.get((arm, text))
        if answer is None:
            answer = _cell(text, ARM_LIMITS_HALF_MMHG if arm else FOOT_LIMITS_HALF_MMHG)
            if len(self.known) < self.MOST_KNOWN:
                self.known[arm, text] = answer
        return answer


def _cell(text: str, limits: tuple[int, int]) -> tuple[int, int, str]:
    plain = text.strip().lower()
    if plain in WORDS:
        return WORDS[plain], 0, ""
    if plain.startswith(STOPPED_AT):
        half, wrong = _halves(plain.removeprefix(STOPPED_AT), FOOT_LIMITS_HALF_MMHG)
        return (VOID, 0, wrong) if wrong else (NOT_OCCLUDABLE, half, "")
    half, wrong = _halves(plain, limits)
    return (VOID, 0, wrong) if wrong else (PRESSURE, half, "")


def _halves(text: str, limits: tuple[int, int]) -> tuple[int, str]:
    """A pressure in half mmHg, and what is wrong with it ("" if nothing)."""
    shown = f"'{_short(text)}'"
    if not text.isascii() or not NUMBER.fullmatch(text):
        comma = " (a decimal comma?)" if re.fullmatch(r"\d+,\d+", text) else ""
        return 0, (
            f"{shown} is neither a pressure in mmHg nor not_occludable, not_occludable_at_N, no_signal or "
            f"not_done{comma}"
        )
    whole, _, part = text.partition(".")
    part = part.rstrip("0")
    if part not in ("", "5"):
        return 0, f"{shown} is not a whole or half mmHg"
    half = int(whole) * 2 + (part == "5")
    if half == 0:
        return 0, "0 is not a pressure: write no_signal, not_occludable or not_done"
    low, high = limits
    if not low <= half <= high:
        return 0, f"{shown} mmHg is not possible here ({low // 2} to {high // 2})"
    return half, ""


def _short(text: str) -> str:
    """Text from a cell for a message: one line, at most 40 signs."""
    plain = "".join(sign if sign.isprintable() else " " for sign in _writable(text))
    return plain if len(plain) <= 40 else f"{plain[:39]}…"


def _interpreted(
    block: Block, columns: list[str], criteria: Criteria, cells: CellReader
) -> list[tuple[str, ...]]:
    errors: dict[int, list[str]] = {row: [wrong] for row, wrong in block.bad_rows.items()}
    codes, halves = {}, {}
    bad_rows = list(block.bad_rows)
    for name in columns:
        if name not in SITE_COLUMNS:
            continue
        answers = [cells.read(text, arm=name in ARM_COLUMNS) for text in block.cells[name]]
        codes[name] = np.array([answer[0] for answer in answers], np.int8)
        halves[name] = np.array([answer[1] for answer in answers], np.int64)
        # Where the cells of a row do not fit the columns, no cell can be trusted to stand where it seems to.
        codes[name][bad_rows] = VOID
        for row, answer in enumerate(answers):
            if answer[2] and row not in block.bad_rows:
                errors.setdefault(row, []).append(f"{name}: {answer[2]}")
    first_arm = _words(block, "first_arm", ARMS, "right, left or blank", FIRST_UNKNOWN, errors)
    _void_undecided_arms(block, codes, errors)
    diabetes = _words(block, "diabetes", ANSWERS, "yes, no or blank", UNKNOWN, errors)
    kidneys = _words(block, "kidney_disease", ANSWERS, "yes, no or blank", NOT_ASKED, errors)
    result = read_table(
        codes, halves, first_arm=first_arm, diabetes=diabetes, kidney_disease=kidneys, criteria=criteria
    )
    names = block.cells.get("exam_id") or [""] * block.rows
    for row, name in enumerate(names):
        if _not_utf8(name):
            errors.setdefault(row, []).append("exam_id: not UTF-8 text, its unreadable signs are shown as �")
    return list(
        zip(
            [_harmless(name) for name in names],
            [criteria.name] * block.rows,
            [_mmhg(value) if value else "" for value in result.denominator.tolist()],
            [_mmhg(value) if value >= 0 else "" for value in result.difference.tolist()],
            *_limb(result.right),
            *_limb(result.left),
            ["; ".join(errors.get(row, ())) for row in range(block.rows)],
            strict=True,
        )
    )


def _words(
    block: Block,
    name: str,
    allowed: dict[str, int],
    words: str,
    absent: int,
    errors: dict[int, list[str]],
) -> np.ndarray:
    """Codes of a column of words. A word that is not allowed counts as blank and is named in the error."""
    if name not in block.cells:
        return np.full(block.rows, absent, np.int8)
    codes = np.full(block.rows, allowed[""], np.int8)
    for row, text in enumerate(block.cells[name]):
        code = allowed.get(text.strip().lower())
        if code is not None:
            codes[row] = code
        elif row not in block.bad_rows:
            errors.setdefault(row, []).append(f"{name}: '{_short(text)}' is not {words}")
    return codes


def _void_undecided_arms(block: Block, codes: dict[str, np.ndarray], errors: dict[int, list[str]]) -> None:
    """Which reading of a repeated arm counts depends on the arm measured first; unreadable, none does."""
    for row, messages in errors.items():
        repeated = any(
            f"arm_{side}_repeat" in codes and codes[f"arm_{side}_repeat"][row] == PRESSURE
            for side in ("right", "left")
        )
        if repeated and any(message.startswith("first_arm:") for message in messages):
            for name in ARM_COLUMNS:
                if name in codes:
                    codes[name][row] = VOID


def _limb(limb: TableLimb) -> tuple[list[str], ...]:
    return (
        [_index(value) for value in limb.ankle_brachial_hundredths.tolist()],
        limb.ankle_brachial_band,
        [_index(value) for value in limb.toe_brachial_hundredths.tolist()],
        limb.toe_brachial_band,
        limb.toe_band,
        limb.ankle_band,
        limb.pattern,
        limb.flags,
    )


def _index(hundredths: int) -> str:
    return "" if hundredths < 0 else f"{hundredths // 100}.{hundredths % 100:02d}"


def _mmhg(eighths: int) -> str:
    """Eighths of a mmHg without trailing zeros: 1160 is 145, 1162 is 145.25."""
    whole, rest = divmod(eighths, 8)
    return f"{whole}.{rest * 125:03d}".rstrip("0").rstrip(".") if rest else str(whole)


def _not_utf8(text: str) -> bool:
    """Whether the text holds bytes that were not UTF-8 (kept as lone surrogates by the reader)."""
    return not text.isascii() and any("\udc80" <= sign <= "\udcff" for sign in text)


def _writable(text: str) -> str:
    """The text with a � for each byte that was not UTF-8."""
    if not _not_utf8(text):
        return text
    return "".join("�" if "\udc80" <= sign <= "\udcff" else sign for sign in text)


def _harmless(exam_id: str) -> str:
    """An identifier that can be written, and that no spreadsheet runs as a formula."""
    exam_id = _writable(exam_id)
    return (
        f"'{exam_id}"
        if exam_id.lstrip().startswith(FORMULA_STARTS) or exam_id.startswith(FORMULA_STARTS)
        else exam_id
    )
