"""What the header of a WFDB recording says, by header(5): its rate, its signals, or its segments."""

from __future__ import annotations

import re
from dataclasses import dataclass

from exams.traces.files.kinds import MOST_CHANNELS, MOST_SAMPLES, TraceFileError
from exams.traces.files.wfdb_formats import COMPRESSED, FORMATS

BROKEN = "This WFDB recording is damaged or not whole. Export it again."
# Longer ones describe more than is read.
HEADER_BYTES = 1 << 16
# A dropped recording of more segments than this would be too many files anyway.
MOST_SEGMENTS = 64
NO_FILE = "~"  # a signal or a segment of which nothing was recorded
_GAIN = re.compile(r"^([0-9.eE+-]+)?(?:\((-?\d+)\))?(?:/(\S+))?$")
_FORMAT = re.compile(r"^(\d+)(?:x(\d+))?(?::(\d+))?(?:\+(\d+))?$")
_USUAL_GAIN = 200.0
_USUAL_HZ = 250.0


@dataclass(frozen=True, slots=True)
class SignalLine:
    """One signal's line of the header. ``in_frame`` samples of it are taken in each frame; ``late_frames``
    is its skew; ``first`` the value from which a format of differences counts; ``checksum`` None where the
    header says none."""

    file: str
    format: str
    in_frame: int
    late_frames: int
    skip_bytes: int
    gain: float
    baseline: int
    unit: str
    first: int
    checksum: int | None
    name: str


@dataclass(frozen=True, slots=True)
class Segment:
    """A part of a recording: a header of its own, or a pause (``~``); ``frames`` 0 only describes signals."""

    name: str
    frames: int

    @property
    def header(self) -> str:
        return f"{self.name}.hea"


@dataclass(frozen=True, slots=True)
class Header:
    """``frames`` is 0 where the header does not say it. Either ``signals`` or ``segments`` is empty."""

    hz: float
    frames: int
    signals: tuple[SignalLine, ...]
    segments: tuple[Segment, ...]

    @property
    def files(self) -> list[str]:
        """The files it names, as it writes them: those of its signals, or its segments' headers."""
        named = [one.file for one in self.signals if one.file != NO_FILE]
        named += [one.header for one in self.segments if one.name != NO_FILE]
        return list(dict.fromkeys(named))


def read_header(content: bytes) -> Header:
    """What these bytes say.

    Raises
    ------
    TraceFileError
        ``broken``; with what to do where its signals are stored in a way that is not read.
    """
    text = content[:HEADER_BYTES].decode("latin-1")
    lines = [line for line in text.splitlines() if line.strip() and line[0] != "#"]
    try:
        record = lines[0].split()
        parts = record[0].split("/")
        many = int(record[1])
        hz = float(re.split(r"[/(]", record[2])[0]) if len(record) > 2 else _USUAL_HZ
        frames = int(record[3]) if len(record) > 3 else 0
        expected = int(parts[1]) if len(parts) == 2 else many
        if len(parts) > 2 or not 1 <= many <= MOST_CHANNELS or not 1 <= expected < len(lines):
            raise ValueError
        if not 0 < hz < 1e6 or frames < 0:
            raise ValueError
        rows = lines[1 : expected + 1]
        if len(parts) == 2:
            return Header(hz, frames, (), _segments(rows))
        return Header(hz, frames, tuple(_signal(line) for line in rows), ())
    except TraceFileError:
        raise
    except (ValueError, IndexError):
        raise TraceFileError("broken", BROKEN) from None


def base_name(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1]


def _segments(lines: list[str]) -> tuple[Segment, ...]:
    if len(lines) > MOST_SEGMENTS:
        raise _refused(
            f"This WFDB recording has {len(lines)} segments; at most {MOST_SEGMENTS} are read. Export the "
            "part with the cuff as EDF+ or CSV."
        )
    cells = [line.split() for line in lines]
    found = tuple(Segment(base_name(one[0]), int(one[1])) for one in cells)
    if any(one.frames < 0 for one in found) or all(one.name == NO_FILE for one in found):
        raise ValueError
    return found


def _signal(text: str) -> SignalLine:
    cells = text.split(maxsplit=8)
    file = base_name(cells[0])
    form = _FORMAT.match(cells[1])
    gain = _GAIN.match(cells[2]) if len(cells) > 2 else None
    if form is None or (len(cells) > 2 and gain is None):
        raise ValueError
    if form[1] in COMPRESSED:
        raise _refused("The signals of this WFDB recording are compressed. Export it as EDF+ or CSV.")
    if form[1] not in FORMATS and file != NO_FILE:
        raise _refused(
            f"The signals of this WFDB recording are in format {form[1][:6]}, which is not read. Export it "
            "as EDF+ or CSV."
        )
    zero = int(cells[4]) if len(cells) > 4 else 0
    scale = float(gain[1]) if gain and gain[1] else 0.0
    return SignalLine(
        file=file,
        format=form[1],
        in_frame=min(max(int(form[2] or 1), 1), MOST_SAMPLES),
        late_frames=int(form[3] or 0),
        skip_bytes=int(form[4] or 0),
        gain=scale or _USUAL_GAIN,
        baseline=int(gain[2]) if gain and gain[2] else zero,
        unit=(gain[3] if gain and gain[3] else "").replace("_", " "),
        first=int(cells[5]) if len(cells) > 5 else zero,
        # Recorders that do not count write 0.
        checksum=(int(cells[6]) or None) if len(cells) > 6 else None,
        name=cells[8].strip() if len(cells) > 8 else "",
    )


def _refused(words: str) -> TraceFileError:
    return TraceFileError("broken", words)
