"""WFDB: a header and its signals, by the published description (PhysioNet, header(5) and signal(5)).

The package for it brings three hundred megabytes; what recorders write fits into these three modules: the
header, the formats of integers, and here the files of a recording. They come as two or more and are kept as
one archive, stored and not compressed.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

import numpy as np

from exams.traces.files import clock
from exams.traces.files.channels import Channel, chosen, preview_of
from exams.traces.files.kinds import (
    MOST_BYTES,
    MOST_CHANNELS,
    Columns,
    FileKind,
    ParsedTrace,
    Preview,
    Samples,
    TraceFileError,
)
from exams.traces.files.wfdb_formats import DIFFERENCES, NO_SAMPLE, integers
from exams.traces.files.wfdb_header import (
    BROKEN,
    MOST_SEGMENTS,
    NO_FILE,
    Header,
    SignalLine,
    base_name,
    read_header,
)

HALF = (
    "A WFDB recording is two files, the header (.hea) and the signals (.dat). Drop both together, under the "
    "names they were made with."
)
_SEGMENT_MISSING = (
    "This WFDB recording has several segments. Drop its main header together with the header and the signals "
    "of every segment, or export it as EDF+ or CSV."
)
_SEGMENTS_DIFFER = (
    "The segments of this WFDB recording do not fit together: their rates, units or signals differ. Export "
    "it as EDF+ or CSV."
)


def put_together(files: Sequence[tuple[str, bytes]]) -> list[tuple[str, bytes]]:
    """Join the header of each WFDB recording with the files it names, among files dropped at once.

    What belongs to no header stays as it is; so does a header whose signals are not there, which ``sniff``
    refuses in words.
    """
    place = {_bare(name): index for index, (name, _) in enumerate(files)}
    headers = {bare: _read_or_none(files[index][1]) for bare, index in place.items() if bare.endswith(".hea")}
    used: set[int] = set()
    joined: list[tuple[str, bytes]] = []
    # A recording of several segments first: the segments' headers are no recordings of their own.
    for bare in sorted(headers, key=lambda one: not _has_segments(headers[one])):
        wanted = _belonging(headers, bare)
        if place[bare] in used or len(wanted) < 2 or not all(one in place for one in wanted):
            continue
        joined.append((files[place[bare]][0], _archive([(one, files[place[one]][1]) for one in wanted])))
        used |= {place[one] for one in wanted}
    return [one for index, one in enumerate(files) if index not in used] + joined


def files_named(header: bytes) -> list[str]:
    """The files a header names, as it writes them: its signals, or its segments' headers; empty where these
    bytes are no header."""
    read = _read_or_none(header)
    return read.files if read else []


def is_archive_of_one(content: bytes) -> bool:
    """Whether these bytes are a recording that ``put_together`` joined."""
    if not content.startswith(b"PK\x03\x04"):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return any(name.endswith(".hea") for name in archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return False


def alone(content: bytes) -> TraceFileError:
    """Why a header that came without its files is not read."""
    try:
        header = read_header(content)
    except TraceFileError as refused:
        return refused
    # Without a file of its own it describes the signals of segments.
    return TraceFileError("half", _SEGMENT_MISSING if header.segments or not header.files else HALF)


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
    main = next((data for name, data in parts.items() if name.endswith(".hea")), None)
    if main is None:
        raise TraceFileError("half", HALF)
    header = read_header(main)
    warnings: list[str] = []
    if header.segments:
        return _in_segments(header, parts, warnings), list(dict.fromkeys(warnings))
    return _whole(header, parts, warnings), warnings


def _whole(header: Header, parts: dict[str, bytes], warnings: list[str]) -> list[Channel]:
    """The signals of one header and its files."""
    clock.too_many(header.frames * max(line.in_frame for line in header.signals))
    clock.not_longer_than_allowed(header.frames / header.hz)
    found: list[tuple[SignalLine, Samples]] = []
    for file in dict.fromkeys(line.file for line in header.signals):
        group = [line for line in header.signals if line.file == file]
        if file == NO_FILE:
            found += [(line, np.full(header.frames * line.in_frame, np.nan)) for line in group]
        elif file.lower() not in parts:
            raise TraceFileError("half", HALF)
        else:
            values = _samples(parts[file.lower()], group, header.frames, warnings)
            found += zip(group, values, strict=True)
    frames = min(values.size // line.in_frame for line, values in found)
    return [
        Channel(
            number=number,
            name=line.name,
            unit=line.unit,
            sampling_hz=header.hz * line.in_frame,
            values=(values[: frames * line.in_frame] - line.baseline) / line.gain,
        )
        for number, (line, values) in enumerate(found)
    ]


def _in_segments(header: Header, parts: dict[str, bytes], warnings: list[str]) -> list[Channel]:
    """The segments one after the other; what a segment did not record is missing.

    Where the first one has no samples it describes every signal, and later ones hold some of them, told apart
    by name; else each holds all signals in one order.
    """
    frames = sum(one.frames for one in header.segments)
    clock.too_many(frames)
    clock.not_longer_than_allowed(frames / header.hz)
    first = next(one for one in header.segments if one.name != NO_FILE)
    described = _segment_header(first.header, header, parts)
    by_name = first.frames == 0
    channels = [
        Channel(number, line.name, line.unit, header.hz * line.in_frame, _missing(frames * line.in_frame))
        for number, line in enumerate(described.signals)
    ]
    named = {one.name: one for one in channels}
    begins = 0
    for segment in header.segments:
        if segment.name != NO_FILE and segment.frames:
            read = _whole(_segment_header(segment.header, header, parts), parts, warnings)
            if not by_name and len(read) != len(channels):
                raise TraceFileError("broken", _SEGMENTS_DIFFER)
            for part in read:
                whole = named.get(part.name) if by_name else channels[part.number]
                if whole is None or (whole.sampling_hz, whole.unit) != (part.sampling_hz, part.unit):
                    raise TraceFileError("broken", _SEGMENTS_DIFFER)
                in_frame = round(whole.sampling_hz / header.hz)
                values = part.values[: segment.frames * in_frame]
                whole.values[begins * in_frame : begins * in_frame + values.size] = values
        begins += segment.frames
    return channels


def _segment_header(name: str, main: Header, parts: dict[str, bytes]) -> Header:
    if name.lower() not in parts:
        raise TraceFileError("half", _SEGMENT_MISSING)
    header = read_header(parts[name.lower()])
    if header.segments or header.hz != main.hz:
        raise TraceFileError("broken", _SEGMENTS_DIFFER)
    return header


def _missing(samples: int) -> Samples:
    clock.too_many(samples)
    return np.full(samples, np.nan)


def _unpacked(content: bytes) -> dict[str, bytes]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = archive.infolist()
            most = 1 + MOST_CHANNELS + 2 * MOST_SEGMENTS
            if len(members) > most or sum(one.file_size for one in members) > MOST_BYTES:
                raise TraceFileError("too_big", "This recording is larger than what can be read.")
            return {_bare(one.filename): archive.read(one) for one in members}
    except TraceFileError:
        raise
    except Exception:  # a broken archive raises what it likes
        raise TraceFileError("broken", BROKEN) from None


def _samples(content: bytes, group: list[SignalLine], count: int, warnings: list[str]) -> list[Samples]:
    """The file's integers as numbers, one array a signal of the file, missing ones NaN."""
    form = group[0].format
    if any(line.format != form for line in group):
        raise TraceFileError("broken", BROKEN)
    numbers = integers(content[group[0].skip_bytes :], form)
    width = sum(line.in_frame for line in group)
    frames = numbers.size // width
    if count and frames < count:
        warnings.append("The recording ends before its header says; what is there was read.")
    frames = min(frames, count) if count else frames
    if frames < 2:
        raise TraceFileError("broken", BROKEN)
    clock.too_many(frames * max(line.in_frame for line in group))
    table = numbers[: frames * width].reshape(frames, width)
    found: list[Samples] = []
    begins = 0
    for line in group:
        stored = table[:, begins : begins + line.in_frame].reshape(-1)
        begins += line.in_frame
        if form == DIFFERENCES:
            stored = (line.first + np.cumsum(stored)).astype(np.int32)
        if frames == count and line.checksum is not None and (int(stored.sum()) - line.checksum) % 65536:
            warnings.append(f"The checksum of signal {line.name or len(found) + 1} does not agree.")
        values = np.where(stored == NO_SAMPLE.get(form), np.nan, stored.astype(np.float64))
        late = min(line.late_frames * line.in_frame, values.size)
        found.append(np.concatenate([values[late:], np.full(late, np.nan)]) if late else values)
    return found


def _belonging(headers: dict[str, Header | None], bare: str) -> list[str]:
    """A header and the files it names, those of its segments too; itself alone where it cannot be read."""
    header = headers.get(bare)
    if header is None:
        return [bare]
    named = [one.lower() for one in header.files]
    if header.segments:
        named += [one.lower() for name in named if (part := headers.get(name)) for one in part.files]
    return list(dict.fromkeys([bare, *named]))


def _has_segments(header: Header | None) -> bool:
    return header is not None and bool(header.segments)


def _read_or_none(content: bytes) -> Header | None:
    try:
        return read_header(content)
    except TraceFileError:
        return None


def _archive(parts: list[tuple[str, bytes]]) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts:
            # A fixed date: the same files are the same archive, and the same checksum, every time.
            archive.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), content)
    return kept.getvalue()


def _bare(name: str) -> str:
    return base_name(name).lower()
