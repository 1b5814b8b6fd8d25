"""EDF and EDF+ through edfio: the channels on one clock. Who was recorded is never read out."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import numpy as np

from exams.traces.files import clock
from exams.traces.files.channels import Channel, chosen, preview_of
from exams.traces.files.kinds import (
    MOST_CHANNELS,
    MOST_SECONDS,
    Annotation,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    TraceFileError,
)

_BROKEN = "This EDF file is damaged or not whole. Export it again."
_HEADER_BYTES = 256


@dataclass(frozen=True, slots=True)
class _Header:
    """What the fixed part says of the file's size, before anything is read by it."""

    header_bytes: int
    records: int
    record_s: float
    channels: int
    samples_a_record: int


def parse_edf(content: bytes, columns: Columns | None) -> ParsedTrace:
    """The cuff's and the sensor's channel on the sensor's clock."""
    channels, notes = _channels(content)
    cuff, signal, unit = chosen(channels, columns)
    step = 1.0 / signal.sampling_hz
    signal_s = np.arange(signal.values.size, dtype=np.float64) * np.float64(step)
    cuff_s = np.arange(cuff.values.size, dtype=np.float64) / np.float64(cuff.sampling_hz)
    on_one = clock.onto(signal_s, cuff_s, cuff.values, step)
    read = clock.trace(signal_s, on_one, signal.values, cuff_unit=unit, warnings=[])
    return ParsedTrace(read.time_s, read.cuff_mmhg, read.signal, read.warnings, notes)


def preview_edf(content: bytes) -> Preview:
    channels, notes = _channels(content)
    return preview_of(FileKind.EDF, channels, notes)


def _channels(content: bytes) -> tuple[list[Channel], tuple[Annotation, ...]]:
    _within_limits(_header(content), len(content))
    from edfio import read_edf  # weighs more than a text table needs

    try:
        edf: Any = read_edf(io.BytesIO(content))
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
        notes = tuple(
            Annotation(float(one.onset), str(one.text)[:200]) for one in list(edf.annotations)[:200]
        )
    except Exception:  # whatever a library raises on bytes of strangers means the same to the person
        raise TraceFileError("broken", _BROKEN) from None
    if not channels:
        raise TraceFileError("no_table", "This EDF file holds no signal, only remarks.")
    return channels, notes


def _header(content: bytes) -> _Header:
    try:
        text = content[:_HEADER_BYTES].decode("ascii")
        header_bytes, records = int(text[184:192]), int(text[236:244])
        record_s, channels = float(text[244:252]), int(text[252:256])
        start = _HEADER_BYTES + 216 * channels
        counts = [int(content[start + 8 * n : start + 8 * n + 8]) for n in range(min(channels, 4096))]
    except ValueError:
        raise TraceFileError("broken", _BROKEN) from None
    return _Header(header_bytes, records, record_s, channels, sum(counts))


def _within_limits(header: _Header, size: int) -> None:
    if header.channels > MOST_CHANNELS + 1:  # one more may hold remarks
        raise TraceFileError(
            "too_many_channels", f"The file has {header.channels} channels; at most {MOST_CHANNELS} are read."
        )
    if header.channels < 1 or header.record_s <= 0 or header.samples_a_record < 1:
        raise TraceFileError("broken", _BROKEN)
    records = (size - header.header_bytes) // (2 * header.samples_a_record)
    if header.records > records or records < 1:
        raise TraceFileError("broken", "This EDF file ends before it should. Export it again.")
    if records * header.record_s > MOST_SECONDS:
        raise TraceFileError(
            "duration",
            f"The recording is longer than {MOST_SECONDS // 60} minutes. Export only the deflation.",
        )
