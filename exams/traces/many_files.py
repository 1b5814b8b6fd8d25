"""Reading a folder of recordings on every core: one line of JSON a file. Pure; the command only calls it."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from exams.hemodynamics import READER_VERSION, Mark, NotStated, TraceKind, TraceReading, read_trace
from exams.traces.files import MOST_BYTES, TraceFileError, parse, put_together, sniff

# Files handed to a core at once: little enough that progress is seen.
_AT_ONCE = 8


def recordings_in(folder: Path) -> list[str]:
    """The files of a folder, below it too, by name: a WFDB recording by its header, hidden files left out."""
    found = [
        path
        for path in folder.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    ]
    headers = {path.with_suffix("") for path in found if path.suffix.lower() == ".hea"}
    kept = [p for p in found if not (p.suffix.lower() == ".dat" and p.with_suffix("") in headers)]
    return sorted(path.relative_to(folder).as_posix() for path in kept)


def read_all(folder: Path, names: list[str], kind: TraceKind) -> Iterator[dict[str, Any]]:
    """One answer a file, in the order of the names, on every core there is."""
    # Each core is one process already: a library that starts threads of its own would only make them wait.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    orders = [(str(folder), name, str(kind)) for name in names]
    cores = min(os.cpu_count() or 1, max(len(names), 1))
    if cores == 1:
        yield from map(_answer, orders)
        return
    with get_context("spawn").Pool(cores) as pool:
        yield from pool.imap(_answer, orders, chunksize=_AT_ONCE)


def answer_of(file: str, reading: TraceReading) -> dict[str, Any]:
    """A reading as the line of answers says it; a pressure that should not be reported is not there."""
    mark = reading.mark
    told = isinstance(mark, Mark) and reading.usable
    return {
        "file": file,
        "pressure_mmhg": round(mark.pressure_mmhg, 1) if told and isinstance(mark, Mark) else None,
        "interval_mmhg": (
            [round(mark.low_mmhg, 1), round(mark.high_mmhg, 1)] if told and isinstance(mark, Mark) else None
        ),
        "usable": reading.usable,
        "flags": [str(flag.code) for flag in reading.flags],
        "beat_mmhg": _number(reading.beat_mmhg),
        "deflation_mmhg_per_s": _number(reading.deflation_mmhg_per_s),
        "version": reading.version,
    }


def line_of(answer: dict[str, Any]) -> str:
    return json.dumps(answer, ensure_ascii=False, allow_nan=False) + "\n"


def _answer(order: tuple[str, str, str]) -> dict[str, Any]:
    folder, name, kind = order
    try:
        content = _content(Path(folder) / name)
        read = parse(sniff(name, content), content, None)
    except TraceFileError as refused:
        return _without_reading(name, refused.words)
    except OSError as refused:
        return _without_reading(name, f"The file cannot be opened: {refused.strerror}.")
    return answer_of(name, read_trace(read.time_s, read.cuff_mmhg, read.signal, kind=TraceKind(kind)))


def _content(path: Path) -> bytes:
    if path.stat().st_size > MOST_BYTES:
        raise TraceFileError("too_big", f"The file is larger than {MOST_BYTES // 2**20} MB.")
    if path.suffix.lower() != ".hea":
        return path.read_bytes()
    beside = [one for one in path.parent.iterdir() if one.is_file() and one.stem.lower() == path.stem.lower()]
    files = [(one.name, one.read_bytes()) for one in beside if one.stat().st_size <= MOST_BYTES]
    return next((data for name, data in put_together(files) if name == path.name), path.read_bytes())


def _without_reading(name: str, words: str) -> dict[str, Any]:
    nothing = dict.fromkeys(("pressure_mmhg", "interval_mmhg"))
    return {
        "file": name,
        **nothing,
        "usable": False,
        "flags": [],
        "beat_mmhg": None,
        "deflation_mmhg_per_s": None,
        "version": READER_VERSION,
        "error": words,
    }


def _number(value: float | NotStated) -> float | None:
    return None if isinstance(value, NotStated) else round(value, 2)
