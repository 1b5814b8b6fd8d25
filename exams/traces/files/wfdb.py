"""WFDB: a header and its signals, by the published description (PhysioNet, header(5) and signal(5)).

The package for it brings three hundred megabytes; the six formats of integers that recorders write fit here.
A recording comes as two files or more and is kept as one archive, stored and not compressed.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.traces.files import clock
from exams.traces.files.channels import Channel, chosen, preview_of
from exams.traces.files.kinds import (
    MOST_BYTES,
    MOST_CHANNELS,
    MOST_SAMPLES,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Samples,
    TraceFileError,
)

_BROKEN = "This WFDB recording is damaged or not whole. Export it again."
HALF = (
    "A WFDB recording is two files, the header (.hea) and the signals (.dat). Drop both together, under the "
    "names they were made with."
)
_GAIN = re.compile(r"^([0-9.eE+-]+)?(?:\((-?\d+)\))?(?:/(\S+))?$")
_FORMAT = re.compile(r"^(\d+)(?:x(\d+))?(?::(\d+))?(?:\+(\d+))?$")
# What stands for "no sample" in each format, before anything else is done to it.
_MISSING = {"16": -32768, "61": -32768, "212": -2048, "80": -128, "24": -(1 << 23), "32": -(1 << 31)}
_USUAL_GAIN = 200.0
_USUAL_HZ = 250.0


@dataclass(frozen=True, slots=True)
class _Line:
    """One signal's line of the header. ``in_frame`` samples of it are taken in each frame; ``late_frames``
    is its skew; ``checksum`` None where the header says none."""

    file: str
    format: str
    in_frame: int
    late_frames: int
    skip_bytes: int
    gain: float
    baseline: int
    unit: str
    checksum: int | None
    name: str


def put_together(files: Sequence[tuple[str, bytes]]) -> list[tuple[str, bytes]]:
    """Join the header of each WFDB recording with the signal files it names, among files dropped at once.

    What belongs to no header stays as it is; so does a header whose signals are not there, which ``sniff``
    refuses in words.
    """
    place = {_bare(name): index for index, (name, _) in enumerate(files)}
    used: set[int] = set()
    joined: list[tuple[str, bytes]] = []
    for bare, index in place.items():
        named = signal_files(files[index][1]) if bare.endswith(".hea") else []
        wanted = [one.lower() for one in named]
        if wanted and all(one in place for one in wanted):
            parts = [(one, files[place[one]][1]) for one in (bare, *wanted)]
            joined.append((files[index][0], _archive(parts)))
            used |= {place[one] for one in (bare, *wanted)}
    return [one for index, one in enumerate(files) if index not in used] + joined


def is_archive_of_one(content: bytes) -> bool:
    """Whether these bytes are a recording that ``put_together`` joined."""
    if not content.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return any(name.endswith(".hea") for name in archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return False


def alone(header: bytes) -> TraceFileError:
    """Why a header that came without its signals is not read."""
    return TraceFileError("half", HALF) if signal_files(header) else TraceFileError("broken", _BROKEN)


def parse_wfdb(content: bytes, columns: Columns | None) -> ParsedTrace:
    """The cuff's and the sensor's signal on the sensor's clock."""
    channels, warnings = _channels(content)
    cuff, signal, unit = chosen(channels, columns)
    time_s = np.arange(signal.values.size) / signal.sampling_hz
    on_one = cuff.values
    if cuff.sampling_hz != signal.sampling_hz:
        cuff_s = np.arange(cuff.values.size) / cuff.sampling_hz
        on_one = clock.onto(time_s, cuff_s, cuff.values, 1.0 / cuff.sampling_hz)
    return clock.trace(time_s, on_one, signal.values, cuff_unit=unit, warnings=warnings)


def preview_wfdb(content: bytes) -> Preview:
    channels, warnings = _channels(content)
    return preview_of(FileKind.WFDB, channels, warnings=tuple(warnings))


def _channels(content: bytes) -> tuple[list[Channel], list[str]]:
    parts = _unpacked(content)
    header = next((data for name, data in parts.items() if name.endswith(".hea")), None)
    if header is None:
        raise TraceFileError("half", HALF)
    hz, count, lines = _header(header)
    clock.too_many(count * max(line.in_frame for line in lines))
    clock.not_longer_than_allowed(count / hz)
    warnings: list[str] = []
    found: list[tuple[_Line, Samples]] = []
    for file in dict.fromkeys(line.file for line in lines):
        group = [line for line in lines if line.file == file]
        if file.lower() not in parts:
            raise TraceFileError("half", HALF)
        found += zip(group, _samples(parts[file.lower()], group, count, warnings), strict=True)
    frames = min(values.size // line.in_frame for line, values in found)
    return [
        Channel(
            number=number,
            name=line.name,
            unit=line.unit,
            sampling_hz=hz * line.in_frame,
            values=(values[: frames * line.in_frame] - line.baseline) / line.gain,
        )
        for number, (line, values) in enumerate(found)
    ], warnings


def _unpacked(content: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = archive.infolist()
            if len(members) > MOST_CHANNELS + 1 or sum(one.file_size for one in members) > MOST_BYTES:
                raise TraceFileError("too_big", "This recording is larger than what can be read.")
            return {_bare(one.filename): archive.read(one) for one in members}
    except TraceFileError:
        raise
    except Exception:  # a broken archive raises what it likes
        raise TraceFileError("broken", _BROKEN) from None


def _header(content: bytes) -> tuple[float, int, list[_Line]]:
    """Sampling rate, samples a signal (0: not said) and the signals' lines."""
    lines = [line for line in content.decode("latin-1").splitlines() if line.strip() and line[0] != "#"]
    try:
        record = lines[0].split()
        signals = int(record[1])
        hz = float(re.split(r"[/(]", record[2])[0]) if len(record) > 2 else _USUAL_HZ
        count = int(record[3]) if len(record) > 3 else 0
        if "/" in record[0] or not 1 <= signals <= MOST_CHANNELS or len(lines) <= signals:
            raise ValueError
        read = [_line(line) for line in lines[1 : signals + 1]]
    except (ValueError, IndexError):
        raise TraceFileError("broken", _BROKEN) from None
    if not 0 < hz < 1e6 or count < 0:
        raise TraceFileError("broken", _BROKEN)
    return hz, count, read


def _line(text: str) -> _Line:
    cells = text.split(maxsplit=8)
    form = _FORMAT.match(cells[1])
    gain = _GAIN.match(cells[2]) if len(cells) > 2 else None
    if form is None or form[1] not in _MISSING or (len(cells) > 2 and gain is None):
        raise TraceFileError(
            "broken",
            "The signals of this WFDB recording are stored in a way that is not read. Export it as CSV.",
        )
    zero = int(cells[4]) if len(cells) > 4 else 0
    scale = float(gain[1]) if gain and gain[1] else 0.0
    return _Line(
        file=_base(cells[0]),
        format=form[1],
        in_frame=min(max(int(form[2] or 1), 1), MOST_SAMPLES),
        late_frames=int(form[3] or 0),
        skip_bytes=int(form[4] or 0),
        gain=scale or _USUAL_GAIN,
        baseline=int(gain[2]) if gain and gain[2] else zero,
        unit=(gain[3] if gain and gain[3] else "").replace("_", " "),
        # Recorders that do not count write 0.
        checksum=(int(cells[6]) or None) if len(cells) > 6 else None,
        name=cells[8].strip() if len(cells) > 8 else "",
    )


def _samples(content: bytes, group: list[_Line], count: int, warnings: list[str]) -> list[Samples]:
    """The file's integers as numbers, one array a signal of the file, missing ones NaN."""
    form = group[0].format
    if any(line.format != form for line in group):
        raise TraceFileError("broken", _BROKEN)
    integers = _integers(content[group[0].skip_bytes :], form)
    width = sum(line.in_frame for line in group)
    frames = integers.size // width
    if count and frames < count:
        warnings.append("The recording ends before its header says; what is there was read.")
    frames = min(frames, count) if count else frames
    if frames < 2:
        raise TraceFileError("broken", _BROKEN)
    clock.too_many(frames * max(line.in_frame for line in group))
    table = integers[: frames * width].reshape(frames, width)
    found: list[Samples] = []
    begins = 0
    for line in group:
        stored = table[:, begins : begins + line.in_frame].reshape(-1)
        begins += line.in_frame
        if frames == count and line.checksum is not None and (int(stored.sum()) - line.checksum) % 65536:
            warnings.append(f"The checksum of signal {line.name or len(found) + 1} does not agree.")
        values = np.where(stored == _MISSING[form], np.nan, stored.astype(np.float64))
        late = min(line.late_frames * line.in_frame, values.size)
        found.append(np.concatenate([values[late:], np.full(late, np.nan)]) if late else values)
    return found


def _integers(data: bytes, form: str) -> npt.NDArray[np.int32]:
    if form == "16":
        return np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.int32)
    if form == "61":
        return np.frombuffer(data[: len(data) // 2 * 2], ">i2").astype(np.int32)
    if form == "32":
        return np.frombuffer(data[: len(data) // 4 * 4], "<i4").astype(np.int32)
    if form == "80":
        return np.frombuffer(data, np.uint8).astype(np.int32) - 128
    if form == "24":
        bytes_ = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3).astype(np.int32)
        value = bytes_[:, 0] | bytes_[:, 1] << 8 | bytes_[:, 2] << 16
        return np.where(value >= 1 << 23, value - (1 << 24), value)
    # 212: two samples of twelve bits in three bytes; a last odd one takes two.
    data += b"\0" if len(data) % 3 == 2 else b""
    bytes_ = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3).astype(np.int32)
    first = bytes_[:, 0] | (bytes_[:, 1] & 0x0F) << 8
    second = bytes_[:, 2] | (bytes_[:, 1] & 0xF0) << 4
    both = np.stack([first, second], axis=1).reshape(-1)
    return np.where(both >= 2048, both - 4096, both)


def signal_files(header: bytes) -> list[str]:
    """The signal files a header names, as it writes them; empty where these bytes are no header."""
    try:
        _, _, lines = _header(header[: 1 << 16])
    except TraceFileError:
        return []
    return list(dict.fromkeys(line.file for line in lines))


def _archive(parts: list[tuple[str, bytes]]) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts:
            # A fixed date: the same two files are the same archive, and the same checksum, every time.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content)
    return kept.getvalue()


def _base(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1]


def _bare(name: str) -> str:
    return _base(name).lower()
