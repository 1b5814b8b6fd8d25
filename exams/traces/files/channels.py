"""Recordings whose format keeps its own clock: which channel is the cuff's and which the sensor's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.traces.files.kinds import (
    Annotation,
    ColumnPreview,
    Columns,
    CuffUnit,
    FileKind,
    Preview,
    Role,
    Samples,
    TraceFileError,
)
from exams.traces.files.naming import Facts, Guess, guess
from exams.traces.files.table import clear_columns


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    number: int
    name: str
    unit: str
    sampling_hz: float
    values: Samples


def chosen(channels: list[Channel], columns: Columns | None) -> tuple[Channel, Channel, CuffUnit]:
    """Cuff, sensor and the cuff's unit: as confirmed, or as clearly recognisable.

    Raises
    ------
    TraceFileError
        ``columns_unclear`` or ``columns_wrong``.
    """
    said = columns or clear_columns(_guess(channels), None)
    if said.cuff == said.signal or not all(0 <= one < len(channels) for one in (said.cuff, said.signal)):
        raise TraceFileError(
            "columns_wrong",
            f"Cuff pressure and signal must be two different channels of the {len(channels)}.",
        )
    return channels[said.cuff], channels[said.signal], said.cuff_unit


def preview_of(
    kind: FileKind,
    channels: list[Channel],
    notes: tuple[Annotation, ...] = (),
    warnings: tuple[str, ...] = (),
) -> Preview:
    found = _guess(channels)
    longest = max(channels, key=lambda one: one.values.size)
    suggested = (
        None
        if found.cuff is None or found.signal is None
        else Columns(cuff=found.cuff, signal=found.signal, cuff_unit=found.cuff_unit)
    )
    return Preview(
        kind=kind,
        columns=tuple(_column(one, found) for one in channels),
        samples=longest.values.size,
        sampling_hz=longest.sampling_hz,
        duration_s=longest.values.size / longest.sampling_hz,
        suggested=suggested,
        questions=found.questions,
        exact=suggested is not None and not found.questions and len(channels) == 2,
        warnings=warnings,
        annotations=notes,
    )


def _guess(channels: list[Channel]) -> Guess:
    return guess(
        [Facts(one.number, one.name, one.unit, one.values, False) for one in channels], own_clock=True
    )


def _column(channel: Channel, found: Guess) -> ColumnPreview:
    role = {found.cuff: Role.CUFF, found.signal: Role.SIGNAL}.get(channel.number)
    finite = channel.values[np.isfinite(channel.values)]
    return ColumnPreview(
        number=channel.number,
        name=channel.name,
        unit=channel.unit,
        first=tuple(f"{value:.4g}" for value in channel.values[:5]),
        low=float(finite.min()) if finite.size else None,
        high=float(finite.max()) if finite.size else None,
        missing=int(channel.values.size - finite.size),
        role=role,
        why=found.why.get(role, "") if role else "",
    )
