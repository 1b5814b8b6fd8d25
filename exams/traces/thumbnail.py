"""A recording as a small picture for sheet, timeline and report: what is drawn where. Pure.

In ink on white, so that it reads the same on a page, in a PDF and photocopied: the signal as a whole line,
the cuff pressure broken with its scale at the right, the mark as a number over a line, the suggestion where
it differs as a hollow triangle, and a word for the quality. templates/traces/_sketch.html draws it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from exams.hemodynamics import Mark, TraceReading
from exams.traces.curves import few, shares
from exams.traces.samples import Floats

WIDTH, HEIGHT = 240, 96
_LEFT, _RIGHT, _TOP, _FOOT = 4, 212, 20, 80
_POINTS = 360
_INK, _SOFT = "#111827", "#4b5563"
# Of the height of the box, for the signal: the rest keeps it clear of the frame.
_SIGNAL_SHARE = 0.84


@dataclass(frozen=True)
class Shown:
    """What the picture says: ``mmhg`` and ``time_s`` of the mark that counts (None: none), the quality in a
    word, and the whole in a sentence for whoever does not see it."""

    mmhg: str
    time_s: float | None
    quality: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line, or the outline of a ``hollow`` shape."""

    path: str
    colour: str
    width: float
    dashes: str = ""
    hollow: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place; ``anchor`` says which end of them stands there."""

    x: float
    y: float
    words: str
    size: int
    bold: bool = False
    colour: str = _INK
    anchor: str = "start"


@dataclass(frozen=True, slots=True)
class Sketch:
    """The picture as it is drawn, so that it can be kept and drawn again alike."""

    width: int
    height: int
    sentence: str
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]


def sketch_of(
    time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading, shown: Shown
) -> Sketch:
    """The picture; a recording of nothing is an empty frame with its words."""
    strokes = [Stroke(f"M{_LEFT} {_FOOT}H{_RIGHT}", _SOFT, 0.8)]
    labels: list[Label] = []
    known = np.isfinite(time_s)
    if known.any():
        time_s = time_s[known]
        begins, length = float(time_s[0]), max(float(time_s[-1] - time_s[0]), 1e-3)
        scale = _Scale(begins, length, _top_of_scale(cuff_mmhg))
        strokes += _curves(time_s, cuff_mmhg[known], signal[known], reading.polarity, scale)
        for mmhg in range(0, int(scale.top_mmhg) + 1, 50):
            at = scale.y(mmhg)
            strokes.append(Stroke(f"M{_RIGHT} {at}h4", _SOFT, 0.8))
            labels.append(Label(_RIGHT + 6, round(at + 3, 1), str(mmhg), 9, colour=_SOFT))
        _put_marks(strokes, labels, reading, shown, scale)
    labels.append(Label(_LEFT, HEIGHT - 5, shown.quality, 11))
    return Sketch(WIDTH, HEIGHT, shown.sentence, tuple(strokes), tuple(labels))


@dataclass(frozen=True)
class _Scale:
    begins_s: float
    length_s: float
    top_mmhg: float

    def x(self, at_s: float) -> float:
        share = min(max((at_s - self.begins_s) / self.length_s, 0.0), 1.0)
        return round(_LEFT + (_RIGHT - _LEFT) * share, 1)

    def y(self, mmhg: float) -> float:
        return round(_FOOT - (_FOOT - _TOP) * mmhg / self.top_mmhg, 1)


def _curves(time_s: Floats, cuff_mmhg: Floats, signal: Floats, polarity: int, scale: _Scale) -> list[Stroke]:
    x = _LEFT + (_RIGHT - _LEFT) * (time_s - scale.begins_s) / scale.length_s
    cuff = np.clip(cuff_mmhg, 0, None)
    blood = shares(polarity * signal) * _SIGNAL_SHARE + (1 - _SIGNAL_SHARE) / 2
    of_cuff, of_signal = few(cuff, _POINTS // 2), few(blood, _POINTS)
    return [
        Stroke(_path(x[of_cuff], _FOOT - (_FOOT - _TOP) * cuff[of_cuff] / scale.top_mmhg), _SOFT, 0.9, "4 2"),
        Stroke(_path(x[of_signal], _FOOT - (_FOOT - _TOP) * blood[of_signal]), _INK, 1.1),
    ]


def _put_marks(
    strokes: list[Stroke], labels: list[Label], reading: TraceReading, shown: Shown, scale: _Scale
) -> None:
    if shown.time_s is not None and shown.mmhg:
        at = scale.x(shown.time_s)
        strokes.append(Stroke(f"M{at} {_TOP - 4}V{_FOOT}", _INK, 1.6))
        anchor = "start" if at < 30 else "end" if at > _RIGHT - 20 else "middle"
        labels.append(Label(at, 13, f"{shown.mmhg} mmHg", 12, bold=True, anchor=anchor))
    if not isinstance(reading.mark, Mark):
        return
    at = scale.x(reading.mark.time_s)
    if shown.time_s is None or abs(at - scale.x(shown.time_s)) > 2:
        strokes.append(Stroke(f"M{at - 3.5:.1f} {_FOOT + 8}h7L{at} {_FOOT + 1}z", _INK, 1.0, hollow=True))


def _top_of_scale(cuff: Floats) -> float:
    highest = float(np.nanmax(cuff)) if np.isfinite(cuff).any() else 0.0
    return max(100.0, math.ceil(highest / 50) * 50.0)


def _path(x: Floats, y: Floats) -> str:
    """Through every point; a gap where the signal is missing."""
    said, down = [], False
    for at, height in zip(x.tolist(), y.tolist(), strict=True):
        if math.isfinite(height):
            said.append(f"{'L' if down else 'M'}{at:.1f} {height:.1f}")
        down = math.isfinite(height)
    return "".join(said)
