"""A recording's numbers as they are drawn: the cuff pressure that falls, and few points of many. Pure.

Pressures are mmHg, times seconds of the recording's own clock; more blood is upwards. What is missing is NaN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.hemodynamics import NotStated, PhaseName, TraceKind, TraceReading
from exams.traces.samples import Floats

MOST_POINTS = 2000
# A manometer steps and trembles; over this long its mean says how the cuff falls, and a straight fall is left
# where it was.
_SMOOTHED_OVER_S = 0.8
# Where no rhythm is seen: 60 beats a minute.
_USUAL_BEAT_S = 1.0


@dataclass(frozen=True)
class Fall:
    """The deflation; shape (n,), n > 1.

    ``cuff_mmhg`` never rises. ``signal`` has more blood upwards. Where pulses come back (arm, ankle)
    ``envelope`` is the line over them, None elsewhere.
    """

    time_s: Floats
    cuff_mmhg: Floats
    signal: Floats
    envelope: Floats | None

    @property
    def highest(self) -> float:
        return float(self.cuff_mmhg[0])

    @property
    def lowest(self) -> float:
        return float(self.cuff_mmhg[-1])

    def mmhg_at(self, time_s: float) -> float:
        """The cuff pressure at a time; before and after, that of the nearest end."""
        return float(np.interp(time_s, self.time_s, self.cuff_mmhg))

    def time_at(self, mmhg: float) -> float:
        """The last time the falling cuff stood at a pressure; above and below, that of the nearest end.

        Where a cuff stops on its way, blood may have come all the while: the last moment is the nearest to
        the pressure that let it through.
        """
        last = int(np.searchsorted(-self.cuff_mmhg, -mmhg, side="right")) - 1
        if last < 0:
            return float(self.time_s[0])
        if last + 1 >= len(self.time_s):
            return float(self.time_s[-1])
        before, after = self.cuff_mmhg[last], self.cuff_mmhg[last + 1]
        share = (before - mmhg) / (before - after)
        return float(self.time_s[last] + share * (self.time_s[last + 1] - self.time_s[last]))


def fall_of(time_s: Floats, cuff_mmhg: Floats, signal: Floats, reading: TraceReading) -> Fall | None:
    """The deflation that the reader of the recording found; None where it found none."""
    begins = next((one.start_s for one in reading.phases if one.name is PhaseName.OCCLUDED), None)
    ends = next((one.start_s for one in reading.phases if one.name is PhaseName.STOP), math.inf)
    known = np.isfinite(time_s) & np.isfinite(cuff_mmhg)
    if begins is None or isinstance(reading.start_mmhg, NotStated) or not known.any():
        return None
    time_s, cuff_mmhg, signal = time_s[known], cuff_mmhg[known], signal[known]
    # The cuff may be held for a while before it is let down: that part is not drawn against pressure.
    part = (time_s >= begins) & (time_s < ends)
    time_s, cuff_mmhg, signal = time_s[part], cuff_mmhg[part], signal[part]
    if len(time_s) < 2:
        return None
    smooth = _smoothed(time_s, cuff_mmhg)
    # From the end backwards the highest so far: each pressure then has the last time at which it stood.
    falling = np.maximum.accumulate(smooth[::-1])[::-1]
    blood = np.where(np.isfinite(signal), reading.polarity * signal, np.nan)
    held = int(np.searchsorted(-falling, -(falling[0] - 1.0)))
    begin = max(0, min(held, len(falling) - 2))
    time_s, falling, blood = time_s[begin:], falling[begin:], blood[begin:]
    if reading.kind is TraceKind.REFILL:
        return Fall(time_s, falling, blood, None)
    beat_s = reading.beat_interval_s if not isinstance(reading.beat_interval_s, NotStated) else _USUAL_BEAT_S
    return Fall(time_s, falling, blood, envelope_of(time_s, blood, beat_s))


def envelope_of(time_s: Floats, signal: Floats, beat_s: float) -> Floats:
    """The highest value of the beat before each sample; missing where all of it is.

    Of the beat before, never of the one to come: the line may not rise ahead of the pulse that lifts it.
    """
    from scipy.ndimage import maximum_filter1d

    size = max(3, round(beat_s / _step(time_s)))
    filled = np.where(np.isnan(signal), -np.inf, signal)
    high = maximum_filter1d(filled, size, mode="nearest", origin=(size - 1) // 2)
    return np.where(np.isfinite(high), high, np.nan)


def _smoothed(time_s: Floats, cuff_mmhg: Floats) -> Floats:
    half = min(round(_SMOOTHED_OVER_S / _step(time_s) / 2), (len(cuff_mmhg) - 1) // 2)
    if half < 1:
        return cuff_mmhg
    # At the ends the mean is taken over fewer samples, as many on either side: a fall keeps its slope.
    reach = np.minimum(half, np.minimum(np.arange(len(cuff_mmhg)), np.arange(len(cuff_mmhg))[::-1]))
    sums = np.concatenate([[0.0], np.cumsum(cuff_mmhg)])
    at = np.arange(len(cuff_mmhg))
    return np.asarray((sums[at + reach + 1] - sums[at - reach]) / (2 * reach + 1))


def _step(time_s: Floats) -> float:
    return max(float(np.median(np.diff(time_s))), 1e-6)


def few(values: Floats, most: int = MOST_POINTS) -> npt.NDArray[np.intp]:
    """Which of the values to draw, in order: at most ``most``, among them the least and the greatest of each
    stretch, so that no spike is lost however many there are. A stretch without any value gives one missing.
    """
    count = len(values)
    if count <= most:
        return np.arange(count)
    buckets = (most - 2) // 2
    size = -(-count // buckets)
    padded = np.full(buckets * size, np.nan)
    padded[:count] = values
    stretches = padded.reshape(buckets, size)
    missing = np.isnan(stretches)
    first = np.arange(buckets) * size
    kept = np.zeros(buckets * size, bool)
    kept[[0, count - 1]] = True
    kept[first + np.argmin(np.where(missing, np.inf, stretches), axis=1)] = True
    kept[first + np.argmax(np.where(missing, -np.inf, stretches), axis=1)] = True
    return np.flatnonzero(kept[:count])


def shares(values: Floats, like: Floats | None = None) -> Floats:
    """Between the least (0) and the greatest (1) of the values, or of ``like``; one half if all are alike."""
    of = values if like is None else like
    known = of[np.isfinite(of)]
    if not len(known) or known.max() <= known.min():
        return np.where(np.isfinite(values), 0.5, np.nan)
    low = float(known.min())
    return np.asarray((values - low) / (float(known.max()) - low))


def part_of(fall: Fall, from_s: float, to_s: float, most: int = MOST_POINTS) -> dict[str, list[int | None]]:
    """The points of a window of the deflation: seconds, mmHg, and the signal as a share of its whole height,
    each in ten-thousandths.

    One point on either side of the window comes along, so that the line reaches its edges.
    """
    first = max(int(np.searchsorted(fall.time_s, from_s)) - 1, 0)
    last = int(np.searchsorted(fall.time_s, to_s, side="right")) + 1
    time_s, cuff_mmhg = fall.time_s[first:last], fall.cuff_mmhg[first:last]
    level = shares(fall.signal)[first:last]
    kept = few(level, most)
    points = {
        "time_s": ten_thousandths(time_s[kept]),
        "mmhg": ten_thousandths(cuff_mmhg[kept]),
        "level": ten_thousandths(level[kept]),
    }
    if fall.envelope is not None:
        over = shares(fall.envelope, like=fall.signal)[first:last]
        kept = few(over, most)
        points["envelope_mmhg"] = ten_thousandths(cuff_mmhg[kept])
        points["envelope"] = ten_thousandths(over[kept])
    return points


def ten_thousandths(values: Floats) -> list[int | None]:
    """As JSON takes it soonest, in whole numbers; a missing value is null."""
    known = np.isfinite(values)
    plain: list[int | None] = np.rint(np.where(known, values, 0) * 1e4).astype(np.int64).tolist()
    if known.all():
        return plain
    return [one if there else None for one, there in zip(plain, known.tolist(), strict=True)]


def svg_path(x: Floats, y: Floats) -> str:
    """An SVG path through the points in whole units, lifted where one is missing."""
    known = np.isfinite(x) & np.isfinite(y)
    points = np.rint(np.where(known, (x, y), 0)).astype(int).T
    if known.all():
        return _lifted_once(points) if len(points) else ""
    edges = np.flatnonzero(np.diff(known)) + 1
    starts = [
        part for part, there in zip(np.split(points, edges), np.split(known, edges), strict=True) if there[0]
    ]
    return "".join(map(_lifted_once, starts))


def _lifted_once(points: npt.NDArray[np.int_]) -> str:
    """A line through the points: what follows a move is drawn to."""
    return f"M{' '.join(map(str, points.ravel().tolist()))}"
