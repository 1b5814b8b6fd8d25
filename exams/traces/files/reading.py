"""One file, whatever its kind: what it is, what it seems to hold, and the recording in it."""

from __future__ import annotations

from exams.traces.files.kinds import MOST_BYTES, Columns, FileKind, ParsedTrace, Preview, TraceFileError
from exams.traces.files.table import parse_table, preview_table
from exams.traces.files.text import as_utf8, refuse_what_is_known
from exams.traces.files.wfdb import HALF, alone, is_archive_of_one, parse_wfdb, preview_wfdb

_TOO_MUCH = "This file needs too much memory to read. Export only the part around the deflation, as CSV."
_WENT_WRONG = "This file cannot be read. Export the recording again, if you can as CSV."


def sniff(name: str, content: bytes) -> FileKind:
    """What kind of recording these bytes are, by what is in them.

    Raises
    ------
    TraceFileError
        ``empty``, ``too_big``, ``half`` or ``not_a_trace``, with what to do.
    """
    if len(content) > MOST_BYTES:
        raise TraceFileError(
            "too_big",
            f"The file is larger than {MOST_BYTES // 2**20} MB. Export only the part around the deflation.",
        )
    if is_archive_of_one(content):
        return FileKind.WFDB
    refuse_what_is_known(content)
    if content.startswith((b"0       ", b"\xffBIOSEMI")) and len(content) > 256:
        return FileKind.EDF
    if name.lower().endswith(".hea"):
        raise alone(content)
    try:
        as_utf8(content)
    except TraceFileError:
        if name.lower().endswith(".dat"):  # some programs call their tables so, too
            raise TraceFileError("half", HALF) from None
        raise
    return FileKind.CSV


def parse(kind: FileKind, content: bytes, columns: Columns | None) -> ParsedTrace:
    """The recording; without ``columns`` only where they are clearly recognisable.

    Raises
    ------
    TraceFileError
        And nothing else, on any bytes.
    """
    return _guarded(_parse, kind, content, columns)


def preview(kind: FileKind, content: bytes) -> Preview:
    """What the file seems to hold, for a person to confirm. Raises only TraceFileError."""
    return _guarded(_preview, kind, content)


def _parse(kind: FileKind, content: bytes, columns: Columns | None) -> ParsedTrace:
    if kind is FileKind.EDF:
        from exams.traces.files.edf import parse_edf  # brings its library only where it is needed

        return parse_edf(content, columns)
    return parse_wfdb(content, columns) if kind is FileKind.WFDB else parse_table(content, columns)


def _preview(kind: FileKind, content: bytes) -> Preview:
    if kind is FileKind.EDF:
        from exams.traces.files.edf import preview_edf  # as above

        return preview_edf(content)
    return preview_wfdb(content) if kind is FileKind.WFDB else preview_table(content)


def _guarded(work, *arguments):
    try:
        return work(*arguments)
    except TraceFileError:
        raise
    except MemoryError:
        raise TraceFileError("too_big", _TOO_MUCH) from None
    except Exception:  # bytes of strangers: whatever else goes wrong means one thing to the person
        raise TraceFileError("broken", _WENT_WRONG) from None
