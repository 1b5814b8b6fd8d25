"""A workbook (.xlsx, .xlsm): what is in it, refused before it is unpacked where that could do harm; rows."""

import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

from reports.exchange.sheets.kinds import (
    MOST_COLUMNS,
    MOST_NAMED,
    MOST_ROWS,
    MOST_UNPACKED,
    Cell,
    Profile,
    Row,
    Sheet,
    TableRefused,
    cell_of,
)

_NOT_ONE = "This is a zip archive and not an .xlsx workbook. Unpack it and send the table in it."
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^>]*\bref="([A-Z]{1,3}\d{1,7}(?::[A-Z]{1,3}\d{1,7})?)"')
_DECLARED = (b"<!DOCTYPE", b"<!ENTITY")
# An honest workbook packs numbers about 20 to 1; a bomb thousands to 1. Ours, wide of both.
_MOST_TIMES = 200
_PIECE = 1 << 20
_MOST_MERGED = 10_000
NOT_CALCULATED = Cell(
    "", "a formula without a stored result", "Open the file, let it calculate, save it and send it again."
)


def profile_workbook(content: bytes) -> Profile:
    """What the workbook holds. TableRefused where it is none, could do harm, or shows no sheet."""
    with _archive(content) as archive:
        names = archive.namelist()
    notes = []
    if any(name.lower().endswith("vbaproject.bin") for name in names):
        notes.append("The file holds macros. They are never run here; only the values are read.")
    if any("externallinks/" in name.lower() for name in names):
        notes.append("The file points to other files. They are not opened; the values last stored are read.")
    sheets = []
    book = _book(content, values=False)
    try:
        for sheet in book.worksheets:
            hidden = sheet.sheet_state != "visible"
            sheets.append(Sheet(sheet.title, hidden=True) if hidden else _sheet(content, sheet))
    finally:
        book.close()
    hidden = [sheet.name for sheet in sheets if sheet.hidden]
    if hidden:
        notes.append(
            f"Hidden and not read: {_named(hidden)}. If pressures are there, show the sheet, send again."
        )
    for sheet in sheets:
        notes += _notes(sheet)
    if not any(sheet.rows for sheet in sheets):
        raise TableRefused("No visible sheet of this workbook has a row. Show the sheet, or fill it.")
    return Profile("xlsx", tuple(sheets), notes=tuple(notes))


def workbook_rows(content: bytes, sheet: Sheet, first_row: int) -> Iterator[Row]:
    """The rows of one sheet; formulas by the value that was stored with them."""
    with _archive(content):
        pass
    merged = _touched(sheet, content)
    width = max(sheet.columns, 1)
    book = _book(content, values=True)
    formulas = _book(content, values=False) if sheet.formula_count else None
    try:
        values = _raw_rows(book[sheet.name], width)
        asked = _raw_rows(formulas[sheet.name], width) if formulas else None
        for number, row in values:
            written = next(asked)[1] if asked else row
            if number < first_row or (row.count(None) == len(row) and written.count(None) == len(written)):
                continue
            areas = merged.get(number, {})
            cells = tuple(
                _cell(value, said, areas.get(column))
                for column, (value, said) in enumerate(zip(row, written, strict=False), start=1)
            )
            if any(cell.text or cell.wrong for cell in cells):
                yield Row(number, cells)
    finally:
        book.close()
        if formulas:
            formulas.close()


def _archive(content: bytes) -> zipfile.ZipFile:
    """The archive, once it is sure that unpacking it is harmless."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
    except zipfile.BadZipFile:
        raise TableRefused("The workbook is damaged. Save it again and send the new file.") from None
    parts = archive.infolist()
    if "xl/workbook.xml" not in {part.filename for part in parts}:
        raise TableRefused(_NOT_ONE)
    if any(part.flag_bits & 1 for part in parts):
        raise TableRefused("The workbook is locked by a password. Save it without one and send that file.")
    unpacked = sum(part.file_size for part in parts)
    if unpacked > MOST_UNPACKED or (unpacked > 2**24 and unpacked > _MOST_TIMES * len(content)):
        raise TableRefused(
            f"Unpacked, this workbook would take {unpacked // 2**20:,} MB, which no table of pressures "
            "needs. Copy the rows into a new workbook, or save the sheet as CSV, and send that."
        )
    for part in parts:
        if part.filename.endswith((".xml", ".rels")):
            with archive.open(part) as file:
                if any(word in file.read(4096) for word in _DECLARED):
                    raise TableRefused(
                        "The workbook holds definitions that no spreadsheet program writes. Copy the rows "
                        "into a new workbook and send that."
                    )
    return archive


def _book(content: bytes, *, values: bool) -> Any:
    from openpyxl import load_workbook  # 0.2 s, and pages that read no workbook need not wait for it

    return load_workbook(io.BytesIO(content), read_only=True, data_only=values, keep_links=False)


def _raw_rows(sheet: Any, width: int) -> Iterator[tuple[int, tuple[Any, ...]]]:
    # What the file says of its own size may be wrong, in either direction.
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(max_col=width, values_only=True), start=1):
        if number > MOST_ROWS:
            raise TableRefused(f"There are more than {MOST_ROWS:,} rows. Send the table in two parts.")
        yield number, row


def _sheet(content: bytes, sheet: Any) -> Sheet:
    """One pass over a sheet, with formulas as they are written."""
    rows = empty = columns = first = last = formulas = 0
    named: list[str] = []
    cut = ""
    sheet.reset_dimensions()
    for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True), start=1):
        if number > MOST_ROWS:
            raise TableRefused(f"There are more than {MOST_ROWS:,} rows. Send the table in two parts.")
        if row.count(None) == len(row):  # a million of these must take a moment only
            continue
        filled = [column for column, value in enumerate(row, start=1) if value not in (None, "")]
        if not filled:
            continue
        rows += 1
        first = first or number
        empty += number - last - 1 if last else 0
        last = number
        columns = max(columns, filled[-1])
        for column in filled:
            value = row[column - 1]
            if (isinstance(value, str) and value.startswith("=")) or type(value).__name__.endswith("Formula"):
                formulas += 1
                if len(named) < MOST_NAMED:
                    named.append(f"{_letters(column)}{number}")
    if columns > MOST_COLUMNS:
        cut = f"Only the first {MOST_COLUMNS} columns are read."
    areas = _merged(content, sheet._worksheet_path)
    return Sheet(
        sheet.title,
        rows=rows,
        empty_rows=empty,
        columns=min(columns, MOST_COLUMNS),
        first_row=first or 1,
        merged=tuple(areas[:MOST_NAMED]),
        merged_count=len(areas),
        formulas=tuple(named),
        formula_count=formulas,
        cut=cut,
    )


def _merged(content: bytes, path: str) -> list[str]:
    """The merged areas of a sheet: they stand after the rows, so the file is passed over in pieces."""
    found: list[str] = []
    with zipfile.ZipFile(io.BytesIO(content)) as archive, archive.open(path.lstrip("/")) as file:
        kept = b""
        while piece := file.read(_PIECE):
            text = kept + piece
            end = 0
            for match in _MERGED.finditer(text):
                found.append(match[1].decode())
                end = match.end()
                if len(found) > _MOST_MERGED:
                    raise TableRefused(
                        f"More than {_MOST_MERGED:,} areas of this sheet are merged. Unmerge them all, fill "
                        "every cell, and send the file again."
                    )
            kept = text[max(end, len(text) - 200) :]
    return found


def _touched(sheet: Sheet, content: bytes) -> dict[int, dict[int, str]]:
    """Row and column of each cell that lies under a merged area and not in its first cell; the area."""
    from openpyxl.utils.cell import range_boundaries

    if not sheet.merged_count:
        return {}
    book = _book(content, values=True)
    try:
        areas = _merged(content, book[sheet.name]._worksheet_path)
    finally:
        book.close()
    found: dict[int, dict[int, str]] = {}
    for area in areas:
        left, top, right, bottom = range_boundaries(area)
        for row in range(top, min(bottom, top + MOST_ROWS // _MOST_MERGED) + 1):
            for column in range(left, min(right, MOST_COLUMNS) + 1):
                if (row, column) != (top, left):
                    found.setdefault(row, {})[column] = area
    return found


def _cell(value: Any, written: Any, area: str | None) -> Cell:
    if area is not None:
        return Cell(
            "", f"lies in the merged area {area}: whose value is it?", "Unmerge it and fill every cell."
        )
    if value is None:
        return NOT_CALCULATED if written is not None else Cell()
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, datetime):
        return Cell(value.date().isoformat() if value.time() == time(0) else value.isoformat(" ", "minutes"))
    if isinstance(value, date):
        return Cell(value.isoformat())
    if isinstance(value, float):
        # 0.1 + 0.2 as a person wrote it: fifteen figures are what a spreadsheet shows at most.
        text = f"{value:.15g}"
        return Cell(text) if "n" not in text else Cell("", "not a number")
    text = str(value).strip()
    if text.startswith("#") and text.rstrip("!?/0AN").startswith(
        ("#DIV", "#N", "#REF", "#VALUE", "#NAME", "#NUM")
    ):
        return Cell(text, "an error that the spreadsheet program left here")
    return cell_of(text)


def _notes(sheet: Sheet) -> list[str]:
    notes = []
    if sheet.formula_count:
        notes.append(
            f"{sheet.name}: {sheet.formula_count:,} formulas ({_named(sheet.formulas, sheet.formula_count)})."
            " Nothing is calculated here: the value last stored with each is read."
        )
    if sheet.merged_count:
        notes.append(
            f"{sheet.name}: {sheet.merged_count:,} merged areas ({_named(sheet.merged, sheet.merged_count)})."
            " Only the first cell of an area holds a value; exams that lie in one are named as doubtful."
        )
    if sheet.empty_rows:
        notes.append(f"{sheet.name}: {sheet.empty_rows:,} empty rows are left out.")
    if sheet.cut:
        notes.append(f"{sheet.name}: {sheet.cut}")
    return notes


def _named(names: tuple[str, ...] | list[str], count: int = 0) -> str:
    shown = ", ".join(names[:MOST_NAMED])
    return f"{shown}, …" if max(count, len(names)) > MOST_NAMED else shown


def _letters(column: int) -> str:
    text = ""
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
