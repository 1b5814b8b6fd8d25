"""The desk's main drawing: signal against falling cuff pressure. Pure.

Sideways everything is a percentage, so that it fits a phone and a page; upwards the places are px of the
drawing, or thousandths inside a curve's own box, which stretches. ``trace_desk_figure.js`` draws the same
when the reader zooms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from exams.hemodynamics import NotStated, TraceReading
from exams.traces import svg
from exams.traces.curves import Fall, few, shares, svg_path, ten_thousandths
from exams.traces.samples import Floats

# How far either way of the mark the desk opens; wide enough for the growing pulses after it.
NEAR_MMHG = 35.0
# px: the height of the box of the curve; from the drawing's upper edge the first line of words inside it.
BOX_PX, WORDS_TOP, LINE_PX = 300, 136, 20
_MARGIN = 0.06
# Of the width: what words need on a phone.
_ROOM_PERCENT = 30
_DRAWN_POINTS = 800
_DRAWN_POINTS_OF_A_REPEAT = 160


@dataclass(frozen=True)
class View:
    """The pressures at the left and right edge, mmHg; the left is the higher."""

    left: float
    right: float

    def percent(self, mmhg: float) -> float:
        return round(100 * (self.left - mmhg) / (self.left - self.right), 3)


@dataclass(frozen=True)
class Placed:
    """Something with words at a pressure. ``kind`` says which shape; ``y`` is px from the upper edge.

    ``percent``, ``anchor`` and ``beyond`` ("left", "right" or "") follow from the view; what lies beyond it
    stands at its edge. ``words_at`` is the place of the words where they keep clear of other lines; a thin
    line leads from there.
    """

    kind: str
    mmhg: float
    words: str
    y: int
    percent: float
    anchor: str
    beyond: str
    words_at: float

    @property
    def middle_y(self) -> int:
        """The middle of its words."""
        return self.y - 5

    @property
    def shape_y(self) -> int:
        return self.y - 10


@dataclass(frozen=True)
class Tick:
    mmhg: int
    percent: float
    anchor: str
    # Every second one keeps its line but not its word where there is little room.
    spare: bool


@dataclass(frozen=True)
class Dot:
    """A beat: at a pressure, at ``level`` of the curve (0 to 1), drawn at ``percent`` and ``y`` px."""

    mmhg: float
    level: float
    percent: float
    y: float


@dataclass(frozen=True)
class Whisker:
    """The 95 % interval."""

    low: float
    high: float
    percent: float
    width: float

    @property
    def end(self) -> float:
        return round(self.percent + self.width, 3)


@dataclass(frozen=True)
class Scale:
    """How far one beat is."""

    mmhg: float
    width: float
    words: str


@dataclass(frozen=True)
class Repeat:
    """Another recording of the same place, as a faint curve. ``number`` is its attempt; ``mmhg`` and
    ``level`` are its points for the script, in ten-thousandths."""

    number: int
    line: str
    mmhg: list[int | None] = field(repr=False)
    level: list[int | None] = field(repr=False)


@dataclass(frozen=True)
class PressureFigure:
    """Signal against falling cuff pressure. ``whole`` is the view of the whole deflation."""

    view: View
    whole: View
    line: str
    envelope: str
    ticks: tuple[Tick, ...]
    dots: tuple[Dot, ...]
    whisker: Whisker | None
    scale: Scale | None
    placed: tuple[Placed, ...]
    repeats: tuple[Repeat, ...]

    @property
    def ticks_drawn(self) -> str:
        return svg.ticks(self.ticks)

    @property
    def dots_drawn(self) -> str:
        return svg.dots(self.dots)

    @property
    def interval_drawn(self) -> str:
        return svg.interval(self.whisker) if self.whisker else ""

    @property
    def whisker_drawn(self) -> str:
        return svg.whisker(self.whisker) if self.whisker else ""

    @property
    def scale_drawn(self) -> str:
        return svg.scale(self.scale) if self.scale else ""

    @property
    def repeats_drawn(self) -> str:
        return svg.repeats(self.repeats)

    @property
    def placed_drawn(self) -> str:
        return svg.placed(self.placed)

    @property
    def yours_to_come(self) -> str:
        """The shape of the reader's own mark where they have put none; the script shows it."""
        return "" if any(one.kind == "yours" for one in self.placed) else svg.YOURS_TO_COME


def whole_view(fall: Fall) -> View:
    """The whole deflation, to the next ten on either side."""
    left, right = math.ceil(fall.highest / 10) * 10, math.floor(fall.lowest / 10) * 10
    return View(float(left), float(max(0, right)) if left > right else float(left - 10))


def near_view(fall: Fall, mmhg: float) -> View:
    """As much of the deflation as bears on a mark there."""
    whole = whole_view(fall)
    left, right = min(whole.left, mmhg + NEAR_MMHG), max(whole.right, mmhg - NEAR_MMHG)
    return View(round(left), round(right)) if left - right >= 10 else whole


def pressure_figure(
    fall: Fall,
    view: View,
    *,
    beat_times_s: Sequence[float],
    beat_mmhg: float | None,
    interval: tuple[float, float] | None,
    placed: Sequence[tuple[str, float, str]],
    repeats: Sequence[tuple[int, Fall]],
) -> PressureFigure:
    """Draw a deflation.

    Parameters
    ----------
    view : the pressures shown.
    beat_times_s : where a dot stands on the curve.
    beat_mmhg : what one beat costs; None draws no scale.
    interval : lowest and highest pressure of the suggestion.
    placed : kind, pressure and words of each mark and flag, the suggestion and the reader's own first.
    repeats : attempt and deflation of the other recordings of the place.
    """
    level = shares(fall.signal)
    inside = (fall.cuff_mmhg <= view.left) & (fall.cuff_mmhg >= view.right)
    low, high = _range(level[inside])
    kept = _from_first_to_last(inside)
    return PressureFigure(
        view=view,
        whole=whole_view(fall),
        line=_against_pressure(fall, level, kept, view, low, high, _DRAWN_POINTS),
        envelope=(
            ""
            if fall.envelope is None
            else _against_pressure(
                fall, shares(fall.envelope, like=fall.signal), kept, view, low, high, _DRAWN_POINTS
            )
        ),
        ticks=_ticks(view),
        dots=_dots(fall, level, view, beat_times_s, low, high),
        whisker=(
            Whisker(
                *interval,
                view.percent(interval[1]),
                round(100 * (interval[1] - interval[0]) / _width(view), 3),
            )
            if interval
            else None
        ),
        scale=(
            Scale(beat_mmhg, round(100 * beat_mmhg / _width(view), 3), f"one beat = {beat_mmhg:.1f} mmHg")
            if beat_mmhg
            else None
        ),
        placed=_placed(view, placed, interval),
        repeats=tuple(_repeat(number, other, view, low, high) for number, other in repeats),
    )


def _placed(
    view: View, things: Sequence[tuple[str, float, str]], interval: tuple[float, float] | None
) -> tuple[Placed, ...]:
    # The two marks that are compared have lines of their own above the curve; whatever else there is stands
    # inside, each thing on a line of its own, so that no words meet whatever the view.
    above = {"suggested": 18, "unsure": 18, "yours": 40}
    suggested = next((mmhg for kind, mmhg, _ in things if kind in ("suggested", "unsure")), None)
    lines = [at for _, mmhg, _ in things if 0 <= (at := view.percent(mmhg)) <= 100]
    clear_at, clear_anchor = _clear_of(lines, view.percent(interval[1]) if interval else 100)
    found, line = [], 0
    for kind, mmhg, words in things:
        y = above.get(kind, WORDS_TOP + LINE_PX * line)
        line += kind not in above
        percent = view.percent(mmhg)
        beyond = "left" if percent < 0 else "right" if percent > 100 else ""
        percent = min(max(percent, 0.0), 100.0)
        at, anchor = clear_at, clear_anchor
        if kind in above or beyond:
            at = percent
            anchor = _anchor(kind, percent, left_of_suggestion=suggested is not None and mmhg > suggested)
        found.append(Placed(kind, mmhg, words, y, percent, anchor, beyond, at))
    return tuple(found)


def _clear_of(lines: Sequence[float], interval_at: float) -> tuple[float, str]:
    """Where the words inside the drawing stand, and which end of them: where no upright line crosses them.

    A curve that has not risen yet leaves room at the left: there, before the interval if it can be.
    """
    first = min(lines, default=100.0)
    for at in (min(first, interval_at), first):
        if at >= _ROOM_PERCENT:
            return at, "end"
    return max(lines, default=0.0), "start"


def _anchor(kind: str, percent: float, *, left_of_suggestion: bool) -> str:
    """Which end of the words stands at their place: there is room on the other side.

    The words of the reader's own mark keep clear of the suggestion.
    """
    if kind == "yours" and 25 < percent < 75:
        return "end" if left_of_suggestion else "start"
    return "start" if percent < 50 else "end"


def _ticks(view: View) -> tuple[Tick, ...]:
    first, last = math.ceil(view.right / 10) * 10, math.floor(view.left / 10) * 10
    ticks = []
    for mmhg in range(last, first - 1, -10):
        percent = view.percent(mmhg)
        anchor = "start" if percent < 2 else "end" if percent > 98 else "middle"
        ticks.append(Tick(mmhg, percent, anchor, spare=mmhg % 20 != 0))
    return tuple(ticks)


def _dots(
    fall: Fall, level: Floats, view: View, times_s: Sequence[float], low: float, high: float
) -> tuple[Dot, ...]:
    known = np.isfinite(level)
    if not known.any():
        return ()
    dots = []
    for at in times_s:
        if not fall.time_s[0] <= at <= fall.time_s[-1]:
            continue
        mmhg = fall.mmhg_at(at)
        height = float(np.interp(at, fall.time_s[known], level[known]))
        y = round(BOX_PX * (1 - share_of_box(height, low, high)), 1)
        dots.append(Dot(round(mmhg, 2), round(height, 4), view.percent(mmhg), y))
    return tuple(dots)


def _repeat(number: int, fall: Fall, view: View, low: float, high: float) -> Repeat:
    level = shares(fall.signal)
    kept = few(level, _DRAWN_POINTS_OF_A_REPEAT)
    mmhg, level = fall.cuff_mmhg[kept], level[kept]
    line = svg_path(_thousandths(view, mmhg), 1000 * (1 - share_of_box(level, low, high)))
    return Repeat(
        number,
        line,
        ten_thousandths(mmhg),
        ten_thousandths(level),
    )


def _against_pressure(
    fall: Fall, level: Floats, part: slice, view: View, low: float, high: float, most: int
) -> str:
    kept = few(level[part], most)
    x = _thousandths(view, fall.cuff_mmhg[part][kept])
    return svg_path(x, 1000 * (1 - share_of_box(level[part][kept], low, high)))


def _thousandths(view: View, mmhg: Floats) -> Floats:
    return np.asarray(1000 * (view.left - mmhg) / _width(view))


def _width(view: View) -> float:
    return view.left - view.right


def _from_first_to_last(inside: np.ndarray) -> slice:
    where = np.flatnonzero(inside)
    if not len(where):
        return slice(0, 0)
    return slice(max(int(where[0]) - 1, 0), int(where[-1]) + 2)


def _range(level: Floats) -> tuple[float, float]:
    known = level[np.isfinite(level)]
    if not len(known) or known.max() <= known.min():
        return 0.0, 1.0
    return float(known.min()), float(known.max())


def share_of_box(level, low: float, high: float):
    """Of the height of the box, with a little room above and below."""
    return _MARGIN + (1 - 2 * _MARGIN) * (level - low) / (high - low)


def mean_beat_mmhg(fall: Fall, reading: TraceReading) -> float | None:
    """What one beat costs over the whole deflation: says nothing of where the mark may stand."""
    if isinstance(reading.beat_interval_s, NotStated):
        return None
    seconds = float(fall.time_s[-1] - fall.time_s[0])
    return round(float(reading.beat_interval_s) * (fall.highest - fall.lowest) / max(seconds, 1e-3), 1)
