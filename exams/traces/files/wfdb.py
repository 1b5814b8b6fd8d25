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

from exams.traces.files import clock
from exams.traces.files.channels import Channel, chosen, preview_of
from exams.traces.files.kinds import (
    MOST_BYTES,
    MOST_CHANNELS,
    MOST_SAMPLES,
    MOST_SECONDS,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Samples,
    TraceFileError,
)

_BROKEN = "This WFDB recording is damaged or not whole. Export it again."
_HALF = (
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
    """One signal's line of the header."""

    file: str
    format: str
    skip_bytes: int
    gain: float
    baseline: int
    unit: str
    name: str


def put_together(files: Sequence[tuple[str, bytes]]) -> list[tuple[str, bytes]]:
    """Join the header of each WFDB recording with the signal files it names, among files dropped at once.

    What belongs to no header stays as it is; so does a header whose signals are not there, which ``sniff``
    refuses in words.
    """
    by_name = {_bare(name): (name, content) for name, content in files}
    used: set[str] = set()
    joined: list[tuple[str, bytes]] = []
    for bare, (name, content) in by_name.items():
        if not bare.endswith(".hea"):
            continue
        wanted = _signal_files(content)
        if wanted and all(one in by_name for one in wanted):
            parts = [(bare, content), *((one, by_name[one][1]) for one in wanted)]
            joined.append((name, _archive(parts)))
            used |= {bare, *wanted}
    return [(name, content) for name, content in files if _bare(name) not in used] + joined


def is_archive_of_one(content: bytes) -> bool:
    """Whether these bytes are a recording that ``put_together`` joined."""
    if not content.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return any(name.endswith(".hea") for name in archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return False


def looks_like_a_header(name: str, content: bytes) -> bool:
    return _bare(name).endswith(".hea") and bool(_signal_files(content))


def half() -> TraceFileError:
    return TraceFileError("half", _HALF)


def parse_wfdb(content: bytes, columns: Columns | None) -> ParsedTrace:
    """The cuff's and the sensor's signal; both have the recording's own clock."""
    channels = _channels(content)
    cuff, signal, unit = chosen(channels, columns)
    time_s = np.arange(signal.values.size) / signal.sampling_hz
    return clock.trace(time_s, cuff.values, signal.values, cuff_unit=unit, warnings=[])


def preview_wfdb(content: bytes) -> Preview:
    return preview_of(FileKind.WFDB, _channels(content))


def _channels(content: bytes) -> list[Channel]:
    parts = _unpacked(content)
    header = next((data for name, data in parts.items() if name.endswith(".hea")), None)
    if header is None:
        raise half()
    hz, count, lines = _header(header)
    channels: list[Channel] = []
    for file in dict.fromkeys(line.file for line in lines):
        group = [line for line in lines if line.file == file]
        if file not in parts:
            raise half()
        values = _samples(parts[file], group, count)
        for line, raw in zip(group, values, strict=True):
            physical = (raw - line.baseline) / line.gain
            channels.append(Channel(len(channels), line.name, line.unit, hz, physical))
    shortest = min(one.values.size for one in channels)
    return [Channel(c.number, c.name, c.unit, c.sampling_hz, c.values[:shortest]) for c in channels]


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
    if not 0 < hz < 1e6 or not 0 <= count <= MOST_SAMPLES:
        raise TraceFileError("too_many_samples", "The recording holds more samples than can be read.")
    if count / hz > MOST_SECONDS:
        raise TraceFileError(
            "duration",
            f"The recording is longer than {MOST_SECONDS // 60} minutes. Export only the deflation.",
        )
    return hz, count, read


def _line(text: str) -> _Line:
    cells = text.split(maxsplit=8)
    form = _FORMAT.match(cells[1])
    gain = _GAIN.match(cells[2]) if len(cells) > 2 else None
    if (
        form is None
        or (form[2] or "1") != "1"
        or form[1] not in _MISSING
        or (len(cells) > 2 and gain is None)
    ):
        raise TraceFileError(
            "broken",
            "The signals of this WFDB recording are stored in a way that is not read. Export it as CSV.",
        )
    zero = int(cells[4]) if len(cells) > 4 else 0
    scale = float(gain[1]) if gain and gain[1] else 0.0
    return _Line(
        file=_bare(cells[0]),
        format=form[1],
        skip_bytes=int(form[4] or 0),
        gain=scale or _USUAL_GAIN,
        baseline=int(gain[2]) if gain and gain[2] else zero,
        unit=(gain[3] if gain and gain[3] else "").replace("_", " "),
        name=cells[8].strip() if len(cells) > 8 else "",
    )


def _samples(content: bytes, group: list[_Line], count: int) -> Samples:
    """The file's integers as numbers, missing ones NaN; shape (signals of the file, samples)."""
    form = group[0].format
    if any(line.format != form for line in group):
        raise TraceFileError("broken", _BROKEN)
    data = content[group[0].skip_bytes :]
    integers = _integers(data, form)
    length = integers.size // len(group)
    if count:
        if length < count:
            raise TraceFileError("broken", "The signals of this WFDB recording end before they should.")
        length = count
    if not 2 <= length <= MOST_SAMPLES:
        raise TraceFileError("broken", _BROKEN)
    table = integers[: length * len(group)].reshape(length, len(group)).T.astype(np.float64)
    table[table == _MISSING[form]] = np.nan
    return table


def _integers(data: bytes, form: str) -> np.ndarray:
    if form == "16":
        return np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.int64)
    if form == "61":
        return np.frombuffer(data[: len(data) // 2 * 2], ">i2").astype(np.int64)
    if form == "32":
        return np.frombuffer(data[: len(data) // 4 * 4], "<i4").astype(np.int64)
    if form == "80":
        return np.frombuffer(data, np.uint8).astype(np.int64) - 128
    if form == "24":
        bytes_ = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3).astype(np.int64)
        value = bytes_[:, 0] | bytes_[:, 1] << 8 | bytes_[:, 2] << 16
        return np.where(value >= 1 << 23, value - (1 << 24), value)
    # 212: two samples of twelve bits in three bytes.
    bytes_ = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3).astype(np.int64)
    first = bytes_[:, 0] | (bytes_[:, 1] & 0x0F) << 8
    second = bytes_[:, 2] | (bytes_[:, 1] & 0xF0) << 4
    both = np.stack([first, second], axis=1).reshape(-1)
    return np.where(both >= 2048, both - 4096, both)


def _signal_files(header: bytes) -> list[str]:
    """The signal files a header names; empty where these bytes are no header."""
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


def _bare(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1].lower()
