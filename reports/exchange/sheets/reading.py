"""One file, whatever its kind: what it is, and its rows."""

from collections.abc import Iterator

from reports.exchange.sheets.kinds import MOST_BYTES, Profile, Row, TableRefused
from reports.exchange.sheets.text import ENCODINGS, SEPARATORS, profile_text, text_rows
from reports.exchange.sheets.workbook import profile_workbook, workbook_rows

__all__ = ["ENCODINGS", "SEPARATORS", "profile_of", "rows_of"]

_SAVE = "Open it in the program that made it, save the sheet as .xlsx or as CSV, and send that file."
# First bytes of what is sent by mistake, and what to say.
_KNOWN = (
    (
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        "This is a workbook of the old kind (.xls), or one locked by a password. Open it, save it as .xlsx "
        "without a password, and send that file.",
    ),
    (b"%PDF", f"This is a PDF: a picture of a table, not its numbers. {_SAVE}"),
    (b"{\\rtf", f"This is a text document with layout. {_SAVE}"),
    (b"\x89PNG", f"This is a picture. {_SAVE}"),
    (b"\xff\xd8\xff", f"This is a picture. {_SAVE}"),
    (b"\x1f\x8b", "This is a compressed file. Unpack it and send the table in it."),
    (b"7z\xbc\xaf\x27\x1c", "This is a compressed file. Unpack it and send the table in it."),
    (b"Rar!", "This is a compressed file. Unpack it and send the table in it."),
)
_WENT_WRONG = f"This file cannot be read as a table. {_SAVE}"


def profile_of(content: bytes, encoding: str = "", separator: str = "") -> Profile:
    """What the file holds. An empty encoding or separator is found out.

    Raises
    ------
    TableRefused
        And nothing else, on any bytes.
    """
    try:
        return _profile(content, encoding, separator)
    except TableRefused:
        raise
    except Exception:  # bytes of strangers: whatever else goes wrong means one thing to the person
        raise TableRefused(_WENT_WRONG) from None


def rows_of(content: bytes, profile: Profile, sheet: str = "", first_row: int = 1) -> Iterator[Row]:
    """The rows that are not empty, from `first_row` on, one at a time.

    Raises
    ------
    TableRefused
        And nothing else, on any bytes.
    """
    try:
        if profile.kind == "csv":
            yield from text_rows(content, profile.encoding, profile.separator, first_row)
        else:
            yield from workbook_rows(content, profile.sheet(sheet or profile.visible[0].name), first_row)
    except (TableRefused, GeneratorExit):
        raise
    except Exception:  # as above
        raise TableRefused(_WENT_WRONG) from None


def _profile(content: bytes, encoding: str, separator: str) -> Profile:
    if not content.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise TableRefused("The file is empty. Save the table again and send the new file.")
    if len(content) > MOST_BYTES:
        raise TableRefused(
            f"The file is larger than {MOST_BYTES // 2**20} MB. Save only the sheet with the pressures, or "
            "send it in two parts."
        )
    for first, words in _KNOWN:
        if content.startswith(first):
            raise TableRefused(words)
    if content.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return profile_workbook(content)
    return profile_text(content, encoding, separator)
