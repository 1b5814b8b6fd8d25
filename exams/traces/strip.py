"""The desk's second drawing: the whole recording against time, its phases named. Pure.

Places as in ``figure.py``: sideways in percent, upwards in thousandths of a box that stretches.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from exams.hemodynamics import PhaseName, TraceReading
from exams.traces import svg
from exams.traces.curves import few, shares, svg_path
from exams.traces.figure import share_of_box
from exams.traces.samples import Floats

_SIGNAL_POINTS, _CUFF_POINTS = 700, 240
_ROOM_FOR_A_NAME = 0.1
PHASE_WORDS = {
    PhaseName.REST: "at rest",
    PhaseName.EMPTYING: "emptied",
    PhaseName.INFLATION: "inflated",
    PhaseName.OCCLUDED: "occluded",
    PhaseName.RETURN: "return",
    PhaseName.STOP: "let down",
}


@dataclass(frozen=True)
class TimeTick:
    percent: float
    words: str
    anchor: str


@dataclass(frozen=True)
class PhaseShown:
    """One part of the recording, seconds from its beginning; ``named`` where the strip has room for it."""

    words: str
    percent: float
    start_s: int
    end_s: int
    named: bool


@dataclass(frozen=True)
class StripMark:
    kind: str
    percent: float
    words: str


@dataclass(frozen=True)
class Strip:
    """Cuff pressure and signal against time. ``begins`` and ``length`` are the recording's, in seconds of its
    own clock; ``shown_from`` and ``shown_width`` the part the drawing above shows, in percent."""

    begins: float
    length: float
    seconds: int
    cuff: str
    signal: str
    ticks: tuple[TimeTick, ...]
    phases: tuple[PhaseShown, ...]
    shown_from: float
    shown_width: float
    marks: tuple[StripMark, ...]

    @property
    def phases_drawn(self) -> str:
        return svg.phases(self.phases)

    @property
    def phases_said(self) -> str:
        return svg.phases_said(self.phases)

    @property
    def phases_read_out(self) -> str:
        return "".join(f"; {one.words} from {one.start_s} s" for one in self.phases)

    @property
    def ticks_drawn(self) -> str:
        return svg.seconds(self.ticks)

    @property
    def marks_drawn(self) -> str:
        return svg.strip_marks(self.marks)


def strip_of(
    time_s: Floats,
    cuff_mmhg: Floats,
    signal: Floats,
    reading: TraceReading,
    *,
    shown_s: tuple[float, float] | None,
    marks: Sequence[tuple[str, float, str]],
    blind: bool,
) -> Strip | None:
    """Draw a whole recording; None where it holds no time at all.

    ``marks`` are kind, second and words. Made ``blind``, the phases do not say where the return begins.
    """
    known = np.isfinite(time_s)
    if not known.any():
        return None
    time_s, cuff_mmhg, signal = time_s[known], cuff_mmhg[known], signal[known]
    begins, length = float(time_s[0]), max(float(time_s[-1] - time_s[0]), 1e-3)

    def percent(at: float) -> float:
        return round(100 * (at - begins) / length, 3)

    x = (time_s - begins) / length * 1000
    cuff = np.clip(cuff_mmhg, 0, None)
    highest = max(100.0, float(np.nanmax(cuff))) if np.isfinite(cuff).any() else 100.0
    blood = shares(reading.polarity * signal)
    of_cuff, of_signal = few(cuff, _CUFF_POINTS), few(blood, _SIGNAL_POINTS)
    every = next((step for step in (5, 10, 30, 60, 120, 300) if length / step <= 10), 600)
    shown = shown_s or (begins, begins)
    return Strip(
        begins=begins,
        length=length,
        seconds=round(length),
        cuff=svg_path(x[of_cuff], 1000 * (1 - cuff[of_cuff] / highest)),
        signal=svg_path(x[of_signal], 1000 * (1 - share_of_box(blood[of_signal], 0, 1))),
        ticks=tuple(
            TimeTick(percent(begins + at), f"{at} s", "start" if at == 0 else "middle")
            for at in range(0, math.floor(length * 0.97) + 1, every)
        ),
        phases=tuple(
            PhaseShown(
                words,
                percent(start_s),
                round(start_s - begins),
                round(end_s - begins),
                named=end_s - start_s >= _ROOM_FOR_A_NAME * length,
            )
            for words, start_s, end_s in _phases(reading, blind)
        ),
        shown_from=percent(shown[0]),
        shown_width=round(100 * (shown[1] - shown[0]) / length, 3),
        marks=tuple(StripMark(kind, percent(at), words) for kind, at, words in marks),
    )


def _phases(reading: TraceReading, blind: bool) -> list[tuple[str, float, float]]:
    phases = [(PHASE_WORDS[one.name], one.start_s, one.end_s) for one in reading.phases]
    if not blind:
        return phases
    falling = [one for one in reading.phases if one.name in (PhaseName.OCCLUDED, PhaseName.RETURN)]
    others = [(PHASE_WORDS[one.name], one.start_s, one.end_s) for one in reading.phases if one not in falling]
    if falling:
        others.append(("deflated", falling[0].start_s, falling[-1].end_s))
    return sorted(others, key=lambda one: one[1])
