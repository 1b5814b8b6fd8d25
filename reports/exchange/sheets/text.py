"""A table as text: which letters, which separator, and its rows."""

import codecs
import csv
import io
import re
from collections.abc import Iterator
from itertools import islice

from reports.exchange.sheets.kinds import (
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Profile,
    Row,
    Sheet,
    TableRefused,
    cell_of,
)

ENCODINGS = {
    "utf-8-sig": "UTF-8",
    "cp1252": "Windows-1252 (Western)",
    "utf-16": "UTF-16",
    "iso8859-15": "Latin-9",
    "cp850": "DOS-850",
    "mac-roman": "Mac Roman",
}
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "upright line"}
_LOOKED_AT = 200
_CONTROL = bytes({*range(0x20), 0x7F} - {0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x1A})
_MARKUP = re.compile(r"\s*<(?:!|\?|[a-zA-Z])")
_JSON = re.compile(r"\s*(?:\{|\[\s*[\[{\"])")


def profile_text(content: bytes, encoding: str = "", separator: str = "") -> Profile:
    """What kind of text it is. TableRefused where it is none, or no table."""
    notes = []
    if not encoding:
        encoding = _encoding(content)
        if encoding == "cp1252":
            notes.append(
                "The letters are not UTF-8 and were read as Windows-1252. Look at names with accents below; "
                "if they are wrong, choose another encoding."
            )
    with _opened(content, encoding) as file:
        head = file.read(64_000)
    if "\x00" in head or _is_not_text(head):
        raise TableRefused(
            "This is not a text table and not an .xlsx workbook. Save the sheet as .xlsx or CSV and send "
            "that file; if it is text of another encoding, choose it."
        )
    if _MARKUP.match(head):
        raise TableRefused(
            "This is a web page or an XML file. Save the sheet as .xlsx or CSV, and send that."
        )
    if _JSON.match(head):
        raise TableRefused("This is a JSON file. Save the sheet as .xlsx or CSV, and send that file.")
    separator = separator or _separator(head)
    rows = empty = columns = first = last = 0
    for number, cells in _numbered(content, encoding, separator):
        if not any(cells):
            continue
        rows += 1
        first = first or number
        columns = max(columns, len(cells))
        empty += number - last - 1 if last else 0
        last = number
    if not rows:
        raise TableRefused("There is no row in this file. Save the table again and send the new file.")
    if empty:
        notes.append(f"{empty:,} empty rows are left out.")
    if columns > MOST_COLUMNS:
        notes.append(f"Only the first {MOST_COLUMNS} of {columns:,} columns are read.")
    sheet = Sheet("table", rows=rows, empty_rows=empty, columns=min(columns, MOST_COLUMNS), first_row=first)
    return Profile("csv", (sheet,), encoding, separator, tuple(notes))


def text_rows(content: bytes, encoding: str, separator: str, first_row: int) -> Iterator[Row]:
    for number, cells in _numbered(content, encoding, separator):
        if number < first_row or not any(cells):
            continue
        read = tuple(_cell(text) for text in cells[:MOST_COLUMNS])
        if any(cell.text or cell.wrong for cell in read):
            yield Row(number, read)


def _cell(text: str) -> Cell:
    if "\ufffd" in text:
        return Cell(cell_of(text).text, "holds a sign that is not of the chosen encoding (shown as \ufffd)")
    return cell_of(text)


def _numbered(content: bytes, encoding: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Each row with its number, counted as a spreadsheet does: a line break inside quotes makes no row."""
    with _opened(content, encoding) as file:
        reader = csv.reader(file, delimiter=separator)
        number = 0
        try:
            for number, cells in enumerate(reader, start=1):
                if number > MOST_ROWS:
                    raise TableRefused(
                        f"There are more than {MOST_ROWS:,} rows. Send the table in two parts."
                    )
                yield number, [cell if cell.strip() else "" for cell in cells]
        except csv.Error:
            raise TableRefused(
                f"After row {number} the text cannot be parted into cells: most likely a quotation mark is "
                "opened and not closed. Mend that row, or save the sheet as .xlsx."
            ) from None


def _opened(content: bytes, encoding: str) -> io.TextIOWrapper:
    if encoding not in ENCODINGS:
        raise TableRefused("This encoding is not known here. Choose one of the list.")
    return io.TextIOWrapper(io.BytesIO(content), encoding=encoding, errors="replace", newline="")


def _encoding(content: bytes) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    head = content[:4096]
    if head[1::2].count(0) > len(head) // 3 or head[0::2].count(0) > len(head) // 3:
        raise TableRefused(
            "This looks like UTF-16 text without its mark, or like no text at all. Save it as CSV in UTF-8."
        )
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for start in range(0, len(content), 1 << 20):
            decoder.decode(content[start : start + (1 << 20)])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def _is_not_text(head: str) -> bool:
    control = len(head) - len(head.translate(dict.fromkeys(_CONTROL)))
    return control > len(head) // 200


def _separator(head: str) -> str:
    """The sign that parts the most lines into the same number of cells, at least two."""
    best, found = (0, 0), ","
    for separator in SEPARATORS:
        try:
            rows = list(islice(csv.reader(io.StringIO(head), delimiter=separator), _LOOKED_AT))
        except csv.Error:
            continue
        counts = [len(row) for row in rows if row]
        if not counts:
            continue
        usual = max(set(counts), key=lambda one: (counts.count(one), one))
        alike = counts.count(usual) if usual > 1 else 0
        if (alike, usual) > best:
            best, found = (alike, usual), separator
    return found
