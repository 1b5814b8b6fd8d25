"""How sure a reading is: the interval of an index by quadrature.

The higher of two near pressures is not normally distributed, so first-order error propagation is wrong; the
ratio is integrated instead. No random numbers: a recomputation compares equal.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.criteria.model import IndexBand, PressureBand
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import Beyond, Interval

Floats = npt.NDArray[np.float64]

NODES = 240
REACH_SD = 8.0  # integration reaches so many SD to either side
CLOSE_SD = 1e-5  # the last step towards a crossing; what is left after it is far below a halving
HALVINGS = 22  # 16 SD halved so often: far below the digits shown
TAIL = 0.025
NORMAL_REACH = 1.959963984540054  # SD to either side that hold 95 %


@dataclass(frozen=True, slots=True)
class Reading:
    """A site pressure in mmHg and the SD of its error in mmHg, above 0."""

    mmhg: float
    sd_mmhg: float


@dataclass(frozen=True, slots=True)
class Combined:
    """Independent readings taken together by ``rule``: "higher", "lower" or "mean"."""

    rule: str
    readings: tuple[Reading, ...]


def reading_sd(single_sd_mmhg: float, count: int) -> float:
    """SD of the value kept at one site, from the SD of one reading.

    Notes
    -----
    Over the square root of n for one reading or the mean of two; the median of more is less efficient than
    their mean by pi/2 (its large-sample variance, slightly too wide for three). Source: clinical reference 7
    (square root of n); the median, ours.
    """
    efficiency = 1.0 if count <= 2 else 2.0 / math.pi
    return single_sd_mmhg / math.sqrt(max(count, 1) * efficiency)


# A sheet is read again at every value typed, and most of its pressures are those of a moment ago.
@lru_cache(maxsize=4096)
def ratio_interval(site: Combined, arm: Combined, bands: tuple[IndexBand, ...]) -> Interval:
    """95 % interval of an index, and how likely it lies beyond each limit of its bands.

    Parameters
    ----------
    site, arm : Combined
        Numerator and denominator.
    bands : tuple of IndexBand
        The probability of each limit is that of the ROUNDED hundredths at or below it (the last: above).

    Returns
    -------
    Interval
        Low and high to two decimals, SD to three, probabilities to four.
    """
    points, weights = _density(arm, positive=True)

    def share_below(ratios: Floats) -> Floats:
        return np.asarray(_cumulative(site, ratios[:, None] * points) @ weights)

    site_points, site_weights = _density(site, positive=False)
    inverse, inverse_square = float(np.sum(weights / points)), float(np.sum(weights / points**2))
    mean = float(np.sum(site_weights * site_points)) * inverse
    variance = float(np.sum(site_weights * site_points**2)) * inverse_square - mean**2
    sd = math.sqrt(max(variance, 0.0))
    low, high = _limits(share_below, mean, sd)
    return index_interval_of(low, high, sd, share_below(index_edges(bands)).tolist(), bands)


def index_edges(bands: tuple[IndexBand, ...]) -> Floats:
    """Up to where a ratio is rounded to the last hundredths of each band but the open one."""
    # Half-up: the hundredths are at or below hi exactly while the ratio is below hi + 0.5.
    return (np.array([band.hi for band in bands if band.hi is not None]) + 0.5) / 100


def index_interval_of(
    low: float, high: float, sd: float, shares: list[float], bands: tuple[IndexBand, ...]
) -> Interval:
    """What was computed of an index, as it is told: rounded, with the limits of its bands."""
    edges = [band.hi for band in bands if band.hi is not None]
    beyond = [
        Beyond(Decimal(edge) / 100, "<=", band.code, _probability(share))
        for edge, band, share in zip(edges, bands, shares, strict=False)
    ]
    beyond.append(Beyond(Decimal(edges[-1]) / 100, ">", bands[-1].code, _probability(1 - shares[-1])))
    return Interval(
        low=round_half_up(Decimal(max(low, 0.0)), 2),
        high=round_half_up(Decimal(high), 2),
        sd=round_half_up(Decimal(sd), 3),
        beyond=tuple(beyond),
    )


@lru_cache(maxsize=4096)
def pressure_interval(site: Combined, bands: tuple[PressureBand, ...]) -> Interval:
    """95 % interval of a pressure in mmHg to one decimal, and how likely it lies below each limit."""

    if site.rule == "mean" or len(site.readings) == 1:
        only = _mean_of(site)
        low, high = only.mmhg - NORMAL_REACH * only.sd_mmhg, only.mmhg + NORMAL_REACH * only.sd_mmhg
        sd = only.sd_mmhg
    else:
        points, weights = _density(site, positive=False)
        mean = float(np.sum(weights * points))
        sd = math.sqrt(float(np.sum(weights * (points - mean) ** 2)))
        low, high = _limits(lambda mmhg: _cumulative(site, mmhg), mean, sd)
    return pressure_interval_of(low, high, sd, _cumulative(site, pressure_limits(bands)).tolist(), bands)


def pressure_limits(bands: tuple[PressureBand, ...]) -> Floats:
    """The limits of the bands but the open one, in mmHg."""
    return np.array([float(band.limit_mmhg) for band in bands if band.limit_mmhg is not None])


def pressure_interval_of(
    low: float, high: float, sd: float, shares: list[float], bands: tuple[PressureBand, ...]
) -> Interval:
    """What was computed of a pressure, as it is told: rounded, with the limits of its bands."""
    limits = [band for band in bands if band.limit_mmhg is not None]
    return Interval(
        low=round_half_up(Decimal(max(low, 0.0)), 1),
        high=round_half_up(Decimal(high), 1),
        sd=round_half_up(Decimal(sd), 2),
        beyond=tuple(
            Beyond(Decimal(band.limit_mmhg or 0), band.operator or "<", band.code, _probability(share))
            for band, share in zip(limits, shares, strict=True)
        ),
    )


def _probability(share: float) -> float:
    return round(min(max(share, 0.0), 1.0), 4)


def _limits(share_below: Callable[[Floats], Floats], mean: float, sd: float) -> tuple[float, float]:
    """The two values between which 95 % lie, both found at once.

    Found by secants, then put on the grid that halving 16 SD so often would end on: asking the integral at
    every halving gives the same two numbers and takes several times as long.
    """
    lowest, highest = mean - REACH_SD * sd, mean + REACH_SD * sd
    low, high = (_on_the_grid(root, lowest, highest) for root in _crossings(share_below, mean, sd))
    return low, high


def _on_the_grid(root: float, low: float, high: float) -> float:
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if middle < root else (low, middle)
    return low


def _crossings(share_below: Callable[[Floats], Floats], mean: float, sd: float) -> list[float]:
    """Where the share below reaches TAIL and 1 - TAIL, far closer than the halvings part the reach.

    On the scale of normal scores the share is nearly a straight line, so a few secants meet it; a step that
    would leave what is known to hold the crossing is replaced by a halving.
    """
    from scipy.special import ndtri

    ends = [_Crossing(score, mean, sd) for score in (-NORMAL_REACH, NORMAL_REACH)]
    for _ in range(4 * HALVINGS):
        shares = np.clip(share_below(np.array([end.there for end in ends])), 1e-300, 1 - 1e-16)
        for end, score in zip(ends, ndtri(shares).tolist(), strict=True):
            end.step(score)
        if all(end.found for end in ends):
            break
    return [end.there for end in ends]


class _Crossing:
    """One end of an interval on its way: where it is looked for, and what is known to hold it."""

    __slots__ = ("_before", "_close", "_high", "_low", "_off_before", "_rise", "_score", "found", "there")

    def __init__(self, score: float, mean: float, sd: float) -> None:
        self._score, self._close, self._rise = score, sd * CLOSE_SD, 1 / sd if sd else 0.0
        self._low, self._high = mean - REACH_SD * sd, mean + REACH_SD * sd
        self._before = self._off_before = math.nan
        self.there, self.found = mean + score * sd, False

    def step(self, score: float) -> None:
        off = score - self._score
        if self.found:
            return
        if off < 0:
            self._low = self.there
        else:
            self._high = self.there
        if self.there != self._before and not math.isnan(self._before):
            self._rise = (off - self._off_before) / (self.there - self._before)
        after = self.there - off / self._rise if self._rise > 0 else math.inf
        self.found = abs(after - self.there) <= self._close
        if not self._low < after < self._high and not self.found:
            after = (self._low + self._high) / 2
            self.found = self._high - self._low <= self._close
        self._before, self._off_before, self.there = self.there, off, after


def _standardised(combined: Combined, values: Floats) -> list[Floats]:
    return [(values - r.mmhg) / r.sd_mmhg for r in combined.readings]


def mean_as_one(combined: Combined) -> Combined:
    """The same, a mean as the one reading it amounts to."""
    return Combined("higher", (_mean_of(combined),)) if combined.rule == "mean" else combined


def _mean_of(combined: Combined) -> Reading:
    count = len(combined.readings)
    mean = sum(r.mmhg for r in combined.readings) / count
    return Reading(mean, math.sqrt(sum(r.sd_mmhg**2 for r in combined.readings)) / count)


def _cumulative(combined: Combined, values: Floats) -> Floats:
    """Probability that the combined pressure lies at or below each value."""
    from scipy.special import ndtr

    combined = mean_as_one(combined)
    parts = [ndtr(z) for z in _standardised(combined, values)]
    if combined.rule == "lower":
        return np.asarray(1 - math.prod(1 - part for part in parts))
    return np.asarray(math.prod(parts))


# Both legs of an exam, ankle and toe, are divided by the same arms.
@lru_cache(maxsize=64)
def _density(combined: Combined, *, positive: bool) -> tuple[Floats, Floats]:
    """Quadrature points in mmHg and the probability at each, summing to 1."""
    from scipy.special import ndtr

    combined = mean_as_one(combined)
    low = min(r.mmhg - REACH_SD * r.sd_mmhg for r in combined.readings)
    high = max(r.mmhg + REACH_SD * r.sd_mmhg for r in combined.readings)
    if positive:
        low = max(low, 1.0)
    places, weights = nodes()
    points = low + (places + 1) * (high - low) / 2
    scores = _standardised(combined, points)
    shares = [ndtr(-z) if combined.rule == "lower" else ndtr(z) for z in scores]
    density = np.zeros_like(points)
    for place, (score, reading) in enumerate(zip(scores, combined.readings, strict=True)):
        others = [share for other, share in enumerate(shares) if other != place]
        density += np.exp(-(score**2) / 2) / reading.sd_mmhg * np.prod(others, axis=0)
    mass = weights * density
    return points, mass / mass.sum()


@lru_cache(maxsize=1)
def nodes() -> tuple[Floats, Floats]:
    """Quadrature points from -1 to 1, and their weights."""
    places, weights = np.polynomial.legendre.leggauss(NODES)
    return places, weights
