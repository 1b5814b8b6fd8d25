"""Is it text, and in which letters: bytes of unknown origin become UTF-8 with plain line ends."""

from __future__ import annotations

import codecs
import re

from exams.traces.files.kinds import TraceFileError

_SAVE_AS_CSV = "Open it in the program that made it, save the recording as CSV, and drop that file."
_SPREADSHEET = (
    "This is a spreadsheet or a zip archive. Save the sheet as CSV, or unpack the archive and drop the files "
    "in it."
)
# First bytes of what is dropped by mistake, and what to say.
_KNOWN = (
    (b"%PDF", f"This is a PDF: a picture of a recording, not its numbers. {_SAVE_AS_CSV}"),
    (b"PK\x03\x04", _SPREADSHEET),
    (b"PK\x05\x06", _SPREADSHEET),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", f"This is an old spreadsheet or document. {_SAVE_AS_CSV}"),
    (b"{\\rtf", f"This is a text document with layout. {_SAVE_AS_CSV}"),
    (b"\x89PNG", f"This is a picture. {_SAVE_AS_CSV}"),
    (b"\xff\xd8\xff", f"This is a picture. {_SAVE_AS_CSV}"),
    (b"GIF8", f"This is a picture. {_SAVE_AS_CSV}"),
    (b"\x1f\x8b", "This is a compressed file. Unpack it and drop the files in it."),
    (b"7z\xbc\xaf\x27\x1c", "This is a compressed file. Unpack it and drop the files in it."),
    (b"Rar!", "This is a compressed file. Unpack it and drop the files in it."),
    (b"BZh", "This is a compressed file. Unpack it and drop the files in it."),
    (b"\xfd7zXZ", "This is a compressed file. Unpack it and drop the files in it."),
)
_MARKUP = re.compile(rb"\s*<(?:!|\?|[a-zA-Z])")
_OBJECTS = re.compile(rb"\s*(?:\{|\[\s*[\[{])")
_CONTROL = bytes({*range(0x20), 0x7F} - {0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x1A})
_LOOKED_AT = 1 << 16


def refuse_what_is_known(content: bytes) -> None:
    """Say it in words where the first bytes are those of another kind of file.

    Raises
    ------
    TraceFileError
        ``empty`` or ``not_a_trace``.
    """
    if not content.strip(b"\x00 \t\r\n"):
        raise TraceFileError("empty", "The file is empty. Export the recording again and drop the new file.")
    for first, words in _KNOWN:
        if content.startswith(first):
            raise TraceFileError("not_a_trace", words)


def as_utf8(content: bytes) -> bytes:
    """The text of a table as UTF-8 without a mark, lines ended by a line feed.

    UTF-8, UTF-16 (with or without its mark) and Latin-1 are told apart by their bytes.

    Raises
    ------
    TraceFileError
        ``not_a_trace`` where it is no text, or text of another kind (a web page, JSON).
    """
    text = _to_utf8(content)
    head = text[:_LOOKED_AT]
    # One stray control character is a slip of a program; many, or a NUL, are not text.
    if b"\x00" in text or len(head) - len(head.translate(None, _CONTROL)) > len(head) // 200:
        raise TraceFileError(
            "not_a_trace",
            "This is not a text table, and not EDF or WFDB either. If it is a program's own format, export "
            "the recording as CSV, EDF or WFDB and drop that file.",
        )
    if _MARKUP.match(head):
        raise TraceFileError("not_a_trace", f"This is a web page or an XML file. {_SAVE_AS_CSV}")
    if _OBJECTS.match(head):
        raise TraceFileError("not_a_trace", f"This is a JSON file. {_SAVE_AS_CSV}")
    if b"\r" in text:
        text = text.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return text


def _to_utf8(content: bytes) -> bytes:
    if content.startswith(codecs.BOM_UTF8):
        content = content[len(codecs.BOM_UTF8) :]
    elif encoding := _utf16(content):
        return content.decode(encoding, errors="replace").removeprefix("\ufeff").encode()
    if content.isascii():
        return content
    try:
        content.decode()
    except UnicodeDecodeError:
        return content.decode("latin-1").encode()
    return content


def _utf16(content: bytes) -> str:
    if content.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if content.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    # Without a mark: digits and separators in UTF-16 have a NUL as every second byte.
    head = content[: _LOOKED_AT & ~1]
    pairs = max(len(head) // 2, 1)
    first, second = head[0::2].count(0) / pairs, head[1::2].count(0) / pairs
    if second > 0.8 and first < 0.1:
        return "utf-16-le"
    if first > 0.8 and second < 0.1:
        return "utf-16-be"
    return ""
