"""Intervals of many readings side by side: the numbers of ``noise``, a group of like ones at a time.

``noise`` computes one interval and says why so; here every step of it is taken by all of a group at once.
Like are those of one rule and one number of readings. The results are equal, not only near: each number goes
through the same operations in the same order.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from exams.hemodynamics.criteria.model import IndexBand, PressureBand
from exams.hemodynamics.findings import Interval
from exams.hemodynamics.noise import (
    CLOSE_SD,
    HALVINGS,
    NORMAL_REACH,
    REACH_SD,
    Combined,
    Floats,
    index_edges,
    index_interval_of,
    mean_as_one,
    nodes,
    pressure_interval,
    pressure_interval_of,
    pressure_limits,
)

# So many at a time stay in the nearest memory of a processor: 240 points each, at two ends.
AT_ONCE = 64

One = TypeVar("One", bound=Hashable)


def ratio_intervals(
    pairs: Iterable[tuple[Combined, Combined]], bands: tuple[IndexBand, ...]
) -> dict[tuple[Combined, Combined], Interval]:
    """``noise.ratio_interval`` of each pair of numerator and denominator."""
    found: dict[tuple[Combined, Combined], Interval] = {}
    for some in _alike(pairs, lambda pair: (_kind(pair[0]), _kind(pair[1]))):
        found.update(zip(some, _ratios(some, bands), strict=True))
    return found


def pressure_intervals(
    sites: Iterable[Combined], bands: tuple[PressureBand, ...]
) -> dict[Combined, Interval]:
    """``noise.pressure_interval`` of each; those of one reading need no integral and are left to it."""
    found: dict[Combined, Interval] = {}
    for some in _alike(sites, _kind):
        if _kind(some[0])[1] == 1:
            found.update((site, pressure_interval(site, bands)) for site in some)
        else:
            found.update(zip(some, _pressures(some, bands), strict=True))
    return found


def _alike(items: Iterable[One], kind: Callable[[One], Hashable]) -> Iterator[list[One]]:
    """The items, each once, in groups of one kind."""
    groups: dict[Hashable, list[One]] = defaultdict(list)
    for item in dict.fromkeys(items):
        groups[kind(item)].append(item)
    for group in groups.values():
        for begin in range(0, len(group), AT_ONCE):
            yield group[begin : begin + AT_ONCE]


def _kind(combined: Combined) -> tuple[str, int]:
    """A mean is one reading; of one reading the rule does not matter, except that it is not the lower."""
    if combined.rule == "mean":
        return "higher", 1
    return combined.rule, len(combined.readings)


def _ratios(pairs: Sequence[tuple[Combined, Combined]], bands: tuple[IndexBand, ...]) -> list[Interval]:
    site = _Group.of([one for one, _ in pairs])
    # Both legs, ankle and toe, are divided by the same arms.
    arms = {arm: place for place, arm in enumerate(dict.fromkeys(arm for _, arm in pairs))}
    of_each = [arms[arm] for _, arm in pairs]
    points, weights = (values[of_each] for values in _Group.of(list(arms)).density(positive=True))

    def share_below(ratios: Floats) -> Floats:
        below = site.cumulative(ratios[:, :, None] * points[:, None, :])
        return np.asarray((below @ weights[:, :, None])[:, :, 0])

    site_points, site_weights = site.density(positive=False)
    inverse, inverse_square = (weights / points).sum(axis=1), (weights / points**2).sum(axis=1)
    mean = (site_weights * site_points).sum(axis=1) * inverse
    variance = (site_weights * site_points**2).sum(axis=1) * inverse_square - mean**2
    sd = np.sqrt(np.maximum(variance, 0.0))
    lows, highs = _limits(share_below, mean, sd)
    edges = np.broadcast_to(index_edges(bands), (len(pairs), len(index_edges(bands))))
    shares = share_below(edges).tolist()
    return [
        index_interval_of(*each, bands)
        for each in zip(lows.tolist(), highs.tolist(), sd.tolist(), shares, strict=True)
    ]


def _pressures(sites: Sequence[Combined], bands: tuple[PressureBand, ...]) -> list[Interval]:
    site = _Group.of(sites)
    points, weights = site.density(positive=False)
    mean = (weights * points).sum(axis=1)
    sd = np.sqrt((weights * (points - mean[:, None]) ** 2).sum(axis=1))
    lows, highs = _limits(site.cumulative, mean, sd)
    limits = np.broadcast_to(pressure_limits(bands), (len(sites), len(pressure_limits(bands))))
    shares = site.cumulative(limits).tolist()
    return [
        pressure_interval_of(*each, bands)
        for each in zip(lows.tolist(), highs.tolist(), sd.tolist(), shares, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Group:
    """n pressures of one rule and k readings each: ``mmhg`` and ``sd_mmhg``, shape (k, n)."""

    rule: str
    mmhg: Floats
    sd_mmhg: Floats

    @classmethod
    def of(cls, combined: Sequence[Combined]) -> _Group:
        told = [mean_as_one(one) for one in combined]
        return cls(
            told[0].rule,
            np.array([[reading.mmhg for reading in one.readings] for one in told]).T.copy(),
            np.array([[reading.sd_mmhg for reading in one.readings] for one in told]).T.copy(),
        )

    def cumulative(self, values: Floats) -> Floats:
        """Probability that each pressure lies at or below its values, shape (n, …)."""
        from scipy.special import ndtr

        parts = [ndtr(score) for score in self._standardised(values)]
        if self.rule == "lower":
            return np.asarray(1 - math.prod(1 - part for part in parts))
        return np.asarray(math.prod(parts))

    def density(self, *, positive: bool) -> tuple[Floats, Floats]:
        """Quadrature points in mmHg and the probability at each, shape (n, points)."""
        from scipy.special import ndtr

        low = (self.mmhg - REACH_SD * self.sd_mmhg).min(axis=0)
        high = (self.mmhg + REACH_SD * self.sd_mmhg).max(axis=0)
        if positive:
            low = np.maximum(low, 1.0)
        places, weights = nodes()
        points = low[:, None] + (places + 1) * (high - low)[:, None] / 2
        scores = self._standardised(points)
        density = np.zeros_like(points)
        shares = [ndtr(-score) if self.rule == "lower" else ndtr(score) for score in scores]
        for place, score in enumerate(scores):
            others = [share for other, share in enumerate(shares) if other != place]
            bell = np.exp(-(score**2) / 2) / self.sd_mmhg[place][:, None]
            density += bell * np.prod(others, axis=0)
        mass = weights * density
        return points, mass / mass.sum(axis=1)[:, None]

    def _standardised(self, values: Floats) -> list[Floats]:
        beside = (-1, *[1] * (values.ndim - 1))
        return [
            (values - mmhg.reshape(beside)) / sd.reshape(beside)
            for mmhg, sd in zip(self.mmhg, self.sd_mmhg, strict=True)
        ]


def _limits(share_below: Callable[[Floats], Floats], mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """The two values of each between which 95 % lie, on the grid of halvings; shape (n,) both."""
    found = _crossings(share_below, mean, sd)
    low, high = (mean - REACH_SD * sd)[:, None], (mean + REACH_SD * sd)[:, None]
    low, high = np.repeat(low, 2, axis=1), np.repeat(high, 2, axis=1)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        below = middle < found
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return low[:, 0], low[:, 1]


def _crossings(share_below: Callable[[Floats], Floats], mean: Floats, sd: Floats) -> Floats:
    """Where each share reaches its two ends, by the steps of ``noise._Crossing``; shape (n, 2)."""
    from scipy.special import ndtri

    score = np.array([-NORMAL_REACH, NORMAL_REACH])
    mean, sd = mean[:, None], sd[:, None]
    close = sd * CLOSE_SD
    there = mean + score * sd
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = np.where(sd > 0, 1 / sd, 0.0) * np.ones(2)
        low, high = np.repeat(mean - REACH_SD * sd, 2, axis=1), np.repeat(mean + REACH_SD * sd, 2, axis=1)
        before, off_before = np.full(there.shape, np.nan), np.full(there.shape, np.nan)
        open_ = np.ones(there.shape, bool)
        for _ in range(4 * HALVINGS):
            off = ndtri(np.clip(share_below(there), 1e-300, 1 - 1e-16)) - score
            low = np.where(open_ & (off < 0), there, low)
            high = np.where(open_ & (off >= 0), there, high)
            moved = open_ & (there != before) & ~np.isnan(before)
            rise = np.where(moved, (off - off_before) / (there - before), rise)
            after = np.where(rise > 0, there - off / rise, np.inf)
            met = np.abs(after - there) <= close
            outside = ~((low < after) & (after < high)) & ~met
            after = np.where(outside, (low + high) / 2, after)
            met |= outside & (high - low <= close)
            before = np.where(open_, there, before)
            off_before = np.where(open_, off, off_before)
            there = np.where(open_, after, there)
            open_ &= ~met
            if not open_.any():
                break
    return there
