"""How an arriving recording is drawn: signal against falling cuff pressure, and a strip of time beneath.

Pure. Places are thousandths of the drawing's width and height, from its upper left corner, so that the page
may stretch it: lines scale, words do not.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from exams.hemodynamics import PhaseName, TraceReading
from exams.traces.curves import fall_of, few, shares
from exams.traces.samples import Floats

MOST_POINTS = 600
# Wide enough that most toes never move the strip's end.
LEAST_STRIP_S = 60
_ROOM_FOR_A_NAME = 0.1
_ROOM = 0.05
PHASE_WORDS = {
    PhaseName.REST: "at rest",
    PhaseName.EMPTYING: "emptied",
    PhaseName.INFLATION: "inflated",
    PhaseName.OCCLUDED: "occluded",
    PhaseName.RETURN: "return",
    PhaseName.STOP: "let down",
}


@dataclass(frozen=True)
class Tick:
    """A named place on an axis; ``percent`` of its length."""

    percent: float
    words: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Dot:
    """A beat; both ``percent`` of the drawing."""

    x: float
    y: float


@dataclass(frozen=True)
class PressurePicture:
    """The signal against cuff pressure, which falls from left to right."""

    line: str
    dots: tuple[Dot, ...]
    ticks: tuple[Tick, ...]


@dataclass(frozen=True)
class PhaseShown:
    """One part of the recording, as the strip and its table name it; ``named`` where the strip has room."""

    words: str
    begins: Tick
    start_s: int
    end_s: int
    from_mmhg: int
    to_mmhg: int
    named: bool


@dataclass(frozen=True)
class StripPicture:
    """Cuff pressure and signal against time."""

    cuff: str
    signal: str
    ticks: tuple[Tick, ...]
    phases: tuple[PhaseShown, ...]


def pressure_picture(
    time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading
) -> PressurePicture | None:
    """From where the cuff begins to fall; None before that.

    The axis reaches from there to 0 mmHg from the first moment, so that nothing already drawn moves sideways.
    """
    fall = fall_of(time_s, cuff_mmhg, signal, reading)
    if fall is None:
        return None
    top = math.ceil(fall.highest / 10) * 10
    level = shares(fall.signal)
    known = np.isfinite(level)
    begins, ends = fall.time_s[0], fall.time_s[-1]
    beats = [one.time_s for one in reading.beats if begins <= one.time_s <= ends and known.any()]
    high = np.interp(beats, fall.time_s[known], level[known]).tolist() if beats else []
    step = 20 if top > 100 else 10
    return PressurePicture(
        line=_line((top - fall.cuff_mmhg) / top * 1000, _height(level)),
        dots=tuple(
            Dot(round(100 * (top - fall.mmhg_at(at)) / top, 2), round(_height(share) / 10, 2))
            for at, share in zip(beats, high, strict=True)
        ),
        ticks=tuple(
            Tick(round(100 * (top - mmhg) / top, 2), str(mmhg), _anchor(mmhg, top, 0))
            for mmhg in range(top - top % step, -1, -step)
        ),
    )


def strip_picture(time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading) -> StripPicture:
    """All that has arrived. Where the cuff or the signal is missing the line has a gap."""
    begins, ends = float(time_s[0]), float(time_s[-1])
    length = max(LEAST_STRIP_S, math.ceil((ends - begins) / 30) * 30)
    x = (time_s - begins) / length * 1000
    highest = max(100.0, float(np.nanmax(cuff_mmhg))) if np.isfinite(cuff_mmhg).any() else 100.0
    every = 10 if length <= 120 else 60 * math.ceil(length / 600)
    return StripPicture(
        cuff=_line(x, 1000 - np.clip(cuff_mmhg, 0, None) / highest * 1000),
        signal=_line(x, _height(shares(reading.polarity * signal))),
        ticks=tuple(
            Tick(round(100 * at / length, 2), f"{at} s", _anchor(at, 0, length))
            for at in range(0, length + 1, every)
        ),
        phases=tuple(
            PhaseShown(
                words=PHASE_WORDS[phase.name],
                begins=Tick(round(100 * (phase.start_s - begins) / length, 2), PHASE_WORDS[phase.name]),
                start_s=round(phase.start_s - begins),
                end_s=round(phase.end_s - begins),
                from_mmhg=_mmhg_at(time_s, cuff_mmhg, phase.start_s),
                to_mmhg=_mmhg_at(time_s, cuff_mmhg, phase.end_s),
                named=phase.end_s - phase.start_s >= _ROOM_FOR_A_NAME * length,
            )
            for phase in reading.phases
        ),
    )


def _mmhg_at(time_s: Floats, cuff_mmhg: Floats, at_s: float) -> int:
    there = np.isfinite(cuff_mmhg)
    return round(float(np.interp(at_s, time_s[there], cuff_mmhg[there])))


def _anchor(at: int, first: int, last: int) -> str:
    return {first: "start", last: "end"}.get(at, "middle")


def _height(share: Any) -> Any:
    """Of a share of the whole height, with a little room above and below."""
    return 1000 - (_ROOM + (1 - 2 * _ROOM) * share) * 1000


def _line(x: Floats, y: Floats) -> str:
    """An SVG path through few of the points, lifted where one is missing."""
    kept = few(y, MOST_POINTS)
    said, down = [], False
    for at, height in zip(x[kept].tolist(), y[kept].tolist(), strict=True):
        if math.isfinite(height):
            said.append(f"{'L' if down else 'M'}{at:.0f} {height:.0f}")
        down = math.isfinite(height)
    return "".join(said)
