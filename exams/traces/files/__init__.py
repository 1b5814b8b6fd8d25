"""The door of the file readers: bytes of a recording in, arrays on one clock out.

Pure: no Django, no database. CSV is read by us, EDF and EDF+ through edfio, WFDB by a small reader of the
published format: the package for it weighs three hundred megabytes of things a vascular lab does not need.

``TraceFileError`` is the only exception, whatever the bytes. Files of strangers are read in a process apart
(``parse_safely``, ``preview_safely``), which may hang or swell without harm.

    kind = sniff(name, content)              # csv, edf or wfdb, or why not
    preview = preview_safely(kind, content)  # for a person to confirm, unless preview.exact
    trace = parse_safely(kind, content, preview.suggested)

A WFDB recording is two files or more: ``put_together`` joins those dropped at once.
"""

from exams.traces.files.apart import parse_safely, preview_safely
from exams.traces.files.kinds import (
    MOST_BYTES,
    MOST_CHANNELS,
    MOST_SAMPLES,
    MOST_SECONDS,
    Annotation,
    ColumnPreview,
    Columns,
    CuffUnit,
    FileKind,
    ParsedTrace,
    Preview,
    Role,
    TimeUnit,
    TraceFileError,
)
from exams.traces.files.reading import parse, preview, sniff
from exams.traces.files.wfdb import files_named, put_together

__all__ = [
    "MOST_BYTES",
    "MOST_CHANNELS",
    "MOST_SAMPLES",
    "MOST_SECONDS",
    "Annotation",
    "ColumnPreview",
    "Columns",
    "CuffUnit",
    "FileKind",
    "ParsedTrace",
    "Preview",
    "Role",
    "TimeUnit",
    "TraceFileError",
    "files_named",
    "parse",
    "parse_safely",
    "preview",
    "preview_safely",
    "put_together",
    "sniff",
]
