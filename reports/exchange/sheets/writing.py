"""Tables written for people to open: CSV and XLSX, with nothing in them that a spreadsheet would run."""

import csv
import io
from collections.abc import Iterable, Sequence

# A spreadsheet would run a cell that starts with one of these.
_STARTS = ("=", "+", "-", "@", "\t", "\r")


def harmless(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would run it. Plain numbers stay."""
    if text.startswith(_STARTS) or text.lstrip().startswith(_STARTS):
        if text[1:].replace(".", "", 1).replace(",", "", 1).isdigit() and text[0] in "-+":
            return text
        return f"'{text}"
    return text


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with its mark, so that spreadsheet programs read the letters right; RFC 4180 quoting."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([harmless(text) for text in row] for row in rows)
    return out.getvalue().encode("utf-8-sig", errors="replace")


def xlsx_bytes(rows: Iterable[Sequence[str]], title: str) -> bytes:
    """One sheet, every cell as text, so that nothing is rounded, turned into a date or run."""
    from openpyxl import Workbook  # as in workbook.py
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title[:31])
    for row in rows:
        sheet.append([ILLEGAL_CHARACTERS_RE.sub("", harmless(text)) for text in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
