"""Reading a stranger's file in a process apart, which may hang or swell without harm.

The child is ``python -m exams.traces.files``. Bytes go in and plain arrays and JSON come out; nothing is
unpickled on this side.
"""

from __future__ import annotations

import json
import math
import resource
import signal
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from exams.traces.files.kinds import (
    Annotation,
    ColumnPreview,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Role,
    TraceFileError,
)
from exams.traces.files.reading import parse, preview

SECONDS = 20.0
MEMORY_MB = 512
_HOUSE = Path(__file__).resolve().parents[3]
_TOO_LONG = "This file takes too long to read. Export only the part around the deflation, as CSV."
_TOO_BIG = "This file needs too much memory to read. Export only the part around the deflation, as CSV."


def parse_safely(
    kind: FileKind,
    content: bytes,
    columns: Columns | None,
    *,
    seconds: float = SECONDS,
    memory_mb: int = MEMORY_MB,
) -> ParsedTrace:
    """As ``parse``, within limits of time and memory.

    Raises
    ------
    TraceFileError
        Also ``too_long`` and ``too_big``.
    """
    said, rest = _asked("parse", kind, content, columns, seconds, memory_mb)
    rows = np.frombuffer(rest, "<f8").reshape(3, -1).copy()
    notes = tuple(Annotation(**one) for one in said["annotations"])
    return ParsedTrace(rows[0], rows[1], rows[2], tuple(said["warnings"]), notes)


def preview_safely(
    kind: FileKind, content: bytes, *, seconds: float = SECONDS, memory_mb: int = MEMORY_MB
) -> Preview:
    """As ``preview``, within limits of time and memory."""
    said, _ = _asked("preview", kind, content, None, seconds, memory_mb)
    columns = tuple(
        ColumnPreview(
            **{**one, "first": tuple(one["first"]), "role": Role(one["role"]) if one["role"] else None}
        )
        for one in said["columns"]
    )
    return Preview(
        **{
            **said,
            "kind": FileKind(said["kind"]),
            "columns": columns,
            "suggested": Columns.from_json(said["suggested"]) if said["suggested"] else None,
            "questions": tuple(said["questions"]),
            "warnings": tuple(said["warnings"]),
            "annotations": tuple(Annotation(**one) for one in said["annotations"]),
        }
    )


def _asked(
    what: str, kind: FileKind, content: bytes, columns: Columns | None, seconds: float, memory_mb: int
) -> tuple[dict[str, Any], bytes]:
    order = {
        "what": what,
        "kind": kind,
        "columns": columns and columns.to_json(),
        "memory_mb": memory_mb,
        "seconds": seconds,
    }
    done = run_apart(["-m", "exams.traces.files"], json.dumps(order).encode() + b"\n" + content, seconds)
    first, _, rest = done.partition(b"\n")
    said: dict[str, Any] = json.loads(first)
    if "code" in said:
        raise TraceFileError(said["code"], said["words"])
    return said, rest


def run_apart(program: Sequence[str], asked: bytes, seconds: float) -> bytes:
    """What a Python program answers, killed when its time is over.

    Raises
    ------
    TraceFileError
        ``too_long``; ``too_big`` where it ended in any other way than by answering.
    """
    try:
        done = subprocess.run(
            [sys.executable, *program],
            input=asked,
            capture_output=True,
            timeout=seconds,
            check=False,
            cwd=_HOUSE,
            # Nothing of ours: the settings of the service hold secrets. One thread: each would claim memory
            # of its own, and the limit counts what is claimed.
            env={"OPENBLAS_NUM_THREADS": "1"},
        )
    except subprocess.TimeoutExpired:
        raise TraceFileError("too_long", _TOO_LONG) from None
    if done.returncode == -signal.SIGXCPU:
        raise TraceFileError("too_long", _TOO_LONG)
    if done.returncode != 0 or not done.stdout:
        raise TraceFileError("too_big", _TOO_BIG)
    return done.stdout


def confine(*, memory_mb: int, seconds: float) -> None:
    """Limit this process: memory, processor time (should nobody be left to stop it), and no file written."""
    for what, limit in (
        (resource.RLIMIT_AS, memory_mb * 2**20),
        (resource.RLIMIT_CPU, math.ceil(seconds) + 1),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        resource.setrlimit(what, (limit, limit))


def answer(asked: BinaryIO, out: BinaryIO) -> None:
    """The child's side: read the order and the bytes, write one line and the arrays."""
    order = json.loads(asked.readline())
    confine(memory_mb=order["memory_mb"], seconds=order["seconds"])
    content = asked.read()
    columns = Columns.from_json(order["columns"]) if order["columns"] else None
    try:
        if order["what"] == "preview":
            out.write(json.dumps(asdict(preview(FileKind(order["kind"]), content))).encode() + b"\n")
            return
        read = parse(FileKind(order["kind"]), content, columns)
    except TraceFileError as refused:
        out.write(json.dumps({"code": refused.code, "words": refused.words}).encode() + b"\n")
        return
    notes = [asdict(one) for one in read.annotations]
    out.write(json.dumps({"warnings": read.warnings, "annotations": notes}).encode() + b"\n")
    for column in (read.time_s, read.cuff_mmhg, read.signal):
        out.write(column.astype("<f8", copy=False).data)
