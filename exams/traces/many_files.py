"""Reading a folder of recordings on every core: one line of JSON a file. Pure; the command only calls it."""

from __future__ import annotations

import json
import os
import resource
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from exams.hemodynamics import READER_VERSION, FlagCode, Mark, NotStated, TraceKind, TraceReading, read_trace
from exams.traces.files import MOST_BYTES, TraceFileError, files_named, parse, put_together, sniff

# Files handed to a core at once: little enough that progress is seen.
_AT_ONCE = 8
_SECONDS_A_FILE = 20.0
_MEMORY_BYTES = 2 * 2**30
# Of a WFDB header; longer ones describe more channels than are read.
_HEADER_BYTES = 1 << 16

# A file without any value of the sensor is a recording that lost it.
_FLAGS_OF = {"no_signal": (FlagCode.GAP_AT_MARK, FlagCode.LOW_AMPLITUDE)}

_Order = tuple[str, str, str]


def recordings_in(folder: Path, *, but: Path | None = None) -> list[str]:
    """The files of a folder, below it too, by name: a WFDB recording by its header alone, hidden files and
    ``but`` (the answers of another time) left out."""
    found = [
        path
        for path in folder.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    ]
    named = {one for path in found if path.suffix.lower() == ".hea" for one in _signals_of(path)}
    left_out = but.absolute() if but else None
    kept = [
        path
        for path in found
        if (path.parent, path.name.lower()) not in named and path.absolute() != left_out
    ]
    return sorted(path.relative_to(folder).as_posix() for path in kept)


def read_all(folder: Path, names: list[str], kind: TraceKind) -> Iterator[dict[str, Any]]:
    """One answer a file, in the order of the names, on every core there is.

    A file that takes its process down with it costs its own line only.
    """
    # Each core is one process already: a library that starts threads of its own would only make them wait.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    orders = [(str(folder), name, str(kind)) for name in names]
    cores = min(os.cpu_count() or 1, max(len(names), 1))
    done = 0
    while done < len(orders):
        try:
            for answer in _side_by_side(orders[done:], cores):
                done += 1
                yield answer
        except BrokenProcessPool:
            # One of the files in work did it: those are read one by one, each in a process of its own.
            suspects = orders[done : done + 2 * cores * _AT_ONCE]
            done += len(suspects)
            yield from map(_alone, suspects)


def _side_by_side(orders: list[_Order], processes: int) -> Iterator[dict[str, Any]]:
    pool = ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_begin)
    try:
        yield from pool.map(_answer, orders, chunksize=_AT_ONCE)
    finally:
        pool.shutdown(cancel_futures=True)


def _alone(order: _Order) -> dict[str, Any]:
    try:
        return next(_side_by_side([order], 1))
    except BrokenProcessPool:
        return _without_reading(order[1], "Reading this file ended its process. It cannot be read.")


def _begin() -> None:
    """What each process does first: leave Ctrl-C to the first one, and keep limits of time and memory."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGALRM, _too_long)
    resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))


def _too_long(*_: object) -> None:
    raise TraceFileError("too_long", f"Reading this file takes longer than {_SECONDS_A_FILE:.0f} seconds.")


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
        "flags": list(dict.fromkeys(str(flag.code) for flag in reading.flags)),
        "beat_mmhg": _number(reading.beat_mmhg),
        "deflation_mmhg_per_s": _number(reading.deflation_mmhg_per_s),
        "version": reading.version,
    }


def line_of(answer: dict[str, Any]) -> str:
    # ASCII: a file's name may hold bytes that are no letters.
    return json.dumps(answer, allow_nan=False) + "\n"


def _answer(order: _Order) -> dict[str, Any]:
    folder, name, kind = order
    signal.setitimer(signal.ITIMER_REAL, _SECONDS_A_FILE)
    try:
        content = _content(Path(folder) / name)
        read = parse(sniff(name, content), content, None)
        reading = read_trace(read.time_s, read.cuff_mmhg, read.signal, kind=TraceKind(kind))
    except TraceFileError as refused:
        return _without_reading(name, refused.words, _FLAGS_OF.get(refused.code, ()))
    except OSError as refused:
        return _without_reading(name, f"The file cannot be opened: {refused.strerror}.")
    except MemoryError:
        return _without_reading(name, "Reading this file needs too much memory.")
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
    return answer_of(name, reading)


def _content(path: Path) -> bytes:
    if path.suffix.lower() != ".hea":
        return _bytes(path)
    dropped = [(path.name, _bytes(path))]
    wanted = files_named(dropped[0][1])
    while wanted:
        one = wanted.pop(0)
        beside = next((path.with_name(way) for way in _ways(one) if path.with_name(way).is_file()), None)
        if beside is not None and beside.name not in {name for name, _ in dropped}:
            dropped.append((beside.name, _bytes(beside)))
            if beside.suffix.lower() == ".hea":  # of a segment
                wanted += files_named(dropped[-1][1])
        if sum(len(content) for _, content in dropped) > MOST_BYTES:
            raise TraceFileError("too_big", f"Its files are larger than {MOST_BYTES // 2**20} MB together.")
    return next(content for name, content in put_together(dropped) if name == path.name)


def _bytes(path: Path) -> bytes:
    if path.stat().st_size > MOST_BYTES:
        raise TraceFileError("too_big", f"The file is larger than {MOST_BYTES // 2**20} MB.")
    return path.read_bytes()


def _ways(name: str) -> tuple[str, str, str]:
    """A header may have been renamed to capitals, or from them, with its signals."""
    return name, name.lower(), name.upper()


def _signals_of(header: Path) -> list[tuple[Path, str]]:
    """The files that belong to a header: those it names, signals or segments, and in any case the one of its
    own name."""
    try:
        with header.open("rb") as file:
            named = files_named(file.read(_HEADER_BYTES))
    except OSError:
        named = []
    return [(header.parent, one.lower()) for one in (*named, header.with_suffix(".dat").name)]


def _without_reading(name: str, words: str, flags: tuple[FlagCode, ...] = ()) -> dict[str, Any]:
    nothing = dict.fromkeys(("pressure_mmhg", "interval_mmhg"))
    return {
        "file": name,
        **nothing,
        "usable": False,
        "flags": [str(code) for code in flags],
        "beat_mmhg": None,
        "deflation_mmhg_per_s": None,
        "version": READER_VERSION,
        "error": words,
    }


def _number(value: float | NotStated) -> float | None:
    return None if isinstance(value, NotStated) else round(value, 2)
