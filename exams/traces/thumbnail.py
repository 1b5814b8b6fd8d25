"""A recording as a small picture for sheet, timeline and report. Pure.

Drawn with attributes alone, in ink on white, so that it reads the same on a page, in a PDF and photocopied:
the signal as a whole line, the cuff pressure broken with its scale at the right, the mark as a number over a
line, the suggestion where it differs as a hollow triangle, and a word for the quality.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.sax.saxutils import escape

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


def thumbnail(time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading, shown: Shown) -> str:
    """The picture as SVG text; a recording of nothing is an empty frame with its words."""
    known = np.isfinite(time_s)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" role="img" font-family="\'Source Sans 3\', sans-serif" fill="none">',
        f"<title>{escape(shown.sentence)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        f'<path d="M{_LEFT} {_FOOT}H{_RIGHT}" stroke="{_SOFT}" stroke-width="0.8"/>',
    ]
    if known.any():
        parts += _drawn(time_s[known], cuff_mmhg[known], signal[known], reading, shown)
    parts.append(_words(_LEFT, HEIGHT - 5, shown.quality, size=11))
    parts.append("</svg>")
    return "".join(parts)


def _drawn(
    time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading, shown: Shown
) -> list[str]:
    begins, length = float(time_s[0]), max(float(time_s[-1] - time_s[0]), 1e-3)
    cuff = np.clip(cuff_mmhg, 0, None)
    top = _top_of_scale(cuff)

    def x_of(at: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * min(max((at - begins) / length, 0.0), 1.0), 1)

    def y_of(mmhg: float) -> float:
        return round(_FOOT - (_FOOT - _TOP) * mmhg / top, 1)

    x = _LEFT + (_RIGHT - _LEFT) * (time_s - begins) / length
    blood = shares(reading.polarity * signal) * _SIGNAL_SHARE + (1 - _SIGNAL_SHARE) / 2
    of_cuff, of_signal = few(cuff, _POINTS // 2), few(blood, _POINTS)
    parts = [
        _line(x[of_cuff], _FOOT - (_FOOT - _TOP) * cuff[of_cuff] / top, _SOFT, 0.9, "4 2"),
        _line(x[of_signal], _FOOT - (_FOOT - _TOP) * blood[of_signal], _INK, 1.1, ""),
    ]
    for mmhg in range(0, int(top) + 1, 50):
        parts.append(f'<path d="M{_RIGHT} {y_of(mmhg)}h4" stroke="{_SOFT}" stroke-width="0.8"/>')
        parts.append(_words(_RIGHT + 6, y_of(mmhg) + 3, str(mmhg), size=9, colour=_SOFT))
    suggested = reading.mark if isinstance(reading.mark, Mark) else None
    if shown.time_s is not None and shown.mmhg:
        at = x_of(shown.time_s)
        parts.append(f'<path d="M{at} {_TOP - 4}V{_FOOT}" stroke="{_INK}" stroke-width="1.6"/>')
        anchor = "start" if at < 30 else "end" if at > _RIGHT - 20 else "middle"
        parts.append(_words(at, 13, f"{shown.mmhg} mmHg", size=12, bold=True, anchor=anchor))
    if suggested and (shown.time_s is None or abs(x_of(suggested.time_s) - x_of(shown.time_s)) > 2):
        at = x_of(suggested.time_s)
        parts.append(
            f'<path d="M{at - 3.5} {_FOOT + 8}h7L{at} {_FOOT + 1}z" fill="#ffffff" stroke="{_INK}" '
            'stroke-width="1"/>'
        )
    return parts


def _top_of_scale(cuff: Floats) -> float:
    highest = float(np.nanmax(cuff)) if np.isfinite(cuff).any() else 0.0
    return max(100.0, math.ceil(highest / 50) * 50.0)


def _line(x: Floats, y: Floats, colour: str, width: float, dashes: str) -> str:
    said, down = [], False
    for at, height in zip(x.tolist(), y.tolist(), strict=True):
        if math.isfinite(height):
            said.append(f"{'L' if down else 'M'}{at:.1f} {height:.1f}")
        down = math.isfinite(height)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<path d="{"".join(said)}" stroke="{colour}" stroke-width="{width}"{dashed}/>'


def _words(
    x: float,
    y: float,
    words: str,
    *,
    size: int,
    bold: bool = False,
    colour: str = _INK,
    anchor: str = "start",
) -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x}" y="{y}" font-size="{size}"{weight} text-anchor="{anchor}" fill="{colour}">'
        f"{escape(words)}</text>"
    )
