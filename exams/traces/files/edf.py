"""EDF, EDF+ and BDF, their kin of 24 bits, through edfio: the channels on one clock. Who was recorded is
never read out.

edfio reads headers, units and samples. Where the records of a discontinuous file (EDF+D) stand in time it
does not say: that is read here, from the channel that keeps the time.
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from exams.traces.files import clock
from exams.traces.files.channels import Channel, chosen, preview_of
from exams.traces.files.kinds import (
    MOST_CHANNELS,
    Annotation,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Samples,
    TraceFileError,
)

_BROKEN = "This EDF or BDF file is damaged or not whole. Export it again."
_BDF = b"\xffBIOSEMI"
_FIXED_BYTES = 256
_CHANNEL_BYTES = 256
_REMARKS = (b"EDF Annotations", b"BDF Annotations")
_MOST_REMARKS = 200
# One time-stamped list of EDF+: +onset, perhaps a duration, then its texts. Bytes without a NUL only, so
# that a damaged file costs no more than its length.
_LIST = re.compile(rb"([+-]\d{1,9}(?:\.\d{1,9})?)(?:\x15[\d.]*)?\x14(.*)\x14", re.DOTALL)


@dataclass(frozen=True, slots=True)
class _Header:
    """What the header says of sizes, before anything is read by it; ``counts`` are samples a record."""

    header_bytes: int
    said_records: int
    records: int
    record_s: float
    labels: tuple[bytes, ...]
    counts: tuple[int, ...]
    sample_bytes: int
    discontinuous: bool

    @property
    def record_bytes(self) -> int:
        return self.sample_bytes * sum(self.counts)


@dataclass(frozen=True, slots=True, eq=False)
class _File:
    channels: list[Channel]
    begins_s: Samples  # of each record
    record_s: float
    annotations: tuple[Annotation, ...]
    warnings: list[str]

    def times(self, channel: Channel) -> Samples:
        """When each sample was taken: every record counts from its own beginning."""
        in_record = np.arange(channel.values.size // self.begins_s.size) / channel.sampling_hz
        return (self.begins_s[:, None] + in_record[None, :]).reshape(-1)


def parse_edf(content: bytes, columns: Columns | None) -> ParsedTrace:
    """The cuff's and the sensor's channel on the sensor's clock; pauses of the recording are missing."""
    file = _read(content)
    cuff, signal, unit = chosen(file.channels, columns)
    signal_s = file.times(signal)
    on_one = clock.onto(signal_s, file.times(cuff), cuff.values, 1.0 / cuff.sampling_hz)
    signal_s, on_one, values = _with_pauses(signal_s, on_one, signal.values, 1.0 / signal.sampling_hz)
    return clock.trace(
        signal_s, on_one, values, cuff_unit=unit, warnings=file.warnings, annotations=file.annotations
    )


def preview_edf(content: bytes) -> Preview:
    file = _read(content)
    return preview_of(FileKind.EDF, file.channels, file.annotations, tuple(file.warnings))


def _read(content: bytes) -> _File:
    header = _header(content)
    said: list[str] = []
    if header.said_records not in (-1, header.records):
        said.append("The file does not hold as many records as its header says; those it holds were read.")
    remarks = _remarks(content, header)
    begins: Samples = np.arange(header.records, dtype=np.float64) * np.float64(header.record_s)
    if header.discontinuous:
        begins = np.array([onset for onset, _ in remarks])
        if begins.size != header.records or not np.isfinite(begins).all():
            raise TraceFileError("broken", "The times of the records of this EDF+ file are damaged.")
        if np.any(np.diff(begins) < header.record_s * 0.999):
            raise TraceFileError("time_wrong", "The records of this EDF+ file overlap in time.")
        begins = begins - begins[0]
    clock.not_longer_than_allowed(float(begins[-1]) + header.record_s)
    notes = tuple(note for _, noted in remarks for note in noted)[:_MOST_REMARKS]
    return _File(_channels(content), begins, header.record_s, notes, said)


def _channels(content: bytes) -> list[Channel]:
    from edfio import read_bdf, read_edf  # weighs more than a text table needs

    try:
        with warnings.catch_warnings():  # about what _header has found already
            warnings.simplefilter("ignore")
            read = read_bdf if content.startswith(_BDF) else read_edf
            edf: Any = read(io.BytesIO(content), header_encoding="latin-1")
            channels = [
                Channel(
                    number=number,
                    name=str(one.label).strip(),
                    unit=str(one.physical_dimension).strip(),
                    sampling_hz=float(one.sampling_frequency),
                    values=np.asarray(one.data, dtype=np.float64),
                )
                for number, one in enumerate(edf.signals)
            ]
    except MemoryError:
        raise
    except Exception:  # whatever a library raises on bytes of strangers means the same to the person
        raise TraceFileError("broken", _BROKEN) from None
    if not channels:
        raise TraceFileError("no_table", "This EDF file holds no signal, only remarks.")
    return channels


def _header(content: bytes) -> _Header:
    try:
        text = content[:_FIXED_BYTES].decode("latin-1")
        header_bytes, said_records = int(text[184:192]), int(text[236:244])
        record_s, channels = float(text[244:252]), int(text[252:256])
        if channels > MOST_CHANNELS + 1:  # one more may hold remarks
            raise TraceFileError(
                "too_many_channels", f"The file has {channels} channels; at most {MOST_CHANNELS} are read."
            )
        first_count = _FIXED_BYTES + 216 * channels
        labels = _fields(content, _FIXED_BYTES, 16, channels)
        counts = [int(field) for field in _fields(content, first_count, 8, channels)]
        if header_bytes != _FIXED_BYTES + _CHANNEL_BYTES * channels or min(counts) < 1 or not record_s > 0:
            raise ValueError
    except TraceFileError:
        raise
    except ValueError:
        raise TraceFileError("broken", _BROKEN) from None
    sample_bytes = 3 if content.startswith(_BDF) else 2
    records = (len(content) - header_bytes) // (sample_bytes * sum(counts))
    if records < 1:
        raise TraceFileError("broken", "This EDF file holds no samples. Export it again.")
    clock.too_many(records * max(counts))
    clock.not_longer_than_allowed(records * record_s)
    return _Header(
        header_bytes,
        said_records,
        records,
        record_s,
        tuple(labels),
        tuple(counts),
        sample_bytes,
        text[192:236].startswith(("EDF+D", "BDF+D")),
    )


def _fields(content: bytes, start: int, width: int, many: int) -> list[bytes]:
    return [content[one : one + width].rstrip() for one in range(start, start + width * many, width)]


def _remarks(content: bytes, header: _Header) -> list[tuple[float, list[Annotation]]]:
    """Of each record: when it begins, as its first list says (NaN where none does), and what was noted."""
    place = next((index for index, label in enumerate(header.labels) if label in _REMARKS), None)
    if place is None:
        return []
    start = header.sample_bytes * sum(header.counts[:place])
    length = header.sample_bytes * header.counts[place]
    rows: npt.NDArray[np.uint8] = np.frombuffer(
        content, np.uint8, header.records * header.record_bytes, header.header_bytes
    ).reshape(header.records, -1)
    return [_lists(row[start : start + length].tobytes()) for row in rows]


def _lists(raw: bytes) -> tuple[float, list[Annotation]]:
    begins, notes = float("nan"), []
    for number, one in enumerate(raw.split(b"\x00")):
        match = _LIST.fullmatch(one)
        if match is None:
            continue
        onset = float(match[1])
        if number == 0:
            begins = onset
        for text in match[2].split(b"\x14")[:_MOST_REMARKS]:
            if words := "".join(filter(str.isprintable, text.decode(errors="replace"))).strip():
                notes.append(Annotation(onset, words[:200]))
    return begins, notes


def _with_pauses(
    time_s: Samples, cuff: Samples, signal: Samples, step_s: float
) -> tuple[Samples, Samples, Samples]:
    """The same with missing samples, one a step, where nothing was recorded."""
    after = np.flatnonzero(np.diff(time_s) > 1.5 * step_s)
    missing = [round((time_s[one + 1] - time_s[one]) / step_s) - 1 for one in after]
    clock.too_many(time_s.size + sum(missing))
    if not missing:
        return time_s, cuff, signal
    at = np.repeat(after + 1, missing)
    filled = np.concatenate(
        [time_s[one] + step_s * np.arange(1, many + 1) for one, many in zip(after, missing, strict=True)]
    )
    return np.insert(time_s, at, filled), np.insert(cuff, at, np.nan), np.insert(signal, at, np.nan)
