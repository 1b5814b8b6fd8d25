"""The slope of a line over the years, and the day a limit would be crossed if it goes on like this."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from statistics import median

import numpy as np
from numpy.typing import NDArray

from exams.hemodynamics.change.line import Visit
from exams.hemodynamics.change.noise_of_change import ChangeNoise
from exams.hemodynamics.findings import NotStated

FEWEST_POINTS = 4
FEWEST_DAYS = 180
DAYS_A_YEAR = 365.25
NORMAL_REACH = 1.959963984540054
LEVEL = 95
# Of four values all six slopes have one sign by chance in 2 of 24 orders: the widest interval holds 92 %.
LEVEL_OF_FOUR = 92
FURTHEST_YEARS = 50
MEDIAN_OVER_MEAN = math.sqrt(math.pi / 2)  # standard error of a median over that of a mean, large samples


@dataclass(frozen=True, slots=True)
class Slope:
    """Theil-Sen slope a year, in the unit of the measure, with its interval and how much that holds (%).

    ``pivot`` is (days after ``start``, value): the medians, through which the line runs.
    """

    per_year: float
    low: float
    high: float
    level: int
    start: date
    end: date
    points: int
    pivot: tuple[float, float]

    @property
    def excludes_zero(self) -> bool:
        """Only an interval that holds at least 95 % counts."""
        return self.level >= LEVEL and (self.low > 0 or self.high < 0)


@dataclass(frozen=True, slots=True)
class Crossing:
    """The day a limit would be crossed, and its interval; ``latest`` None is "no end in sight"."""

    limit: float
    on: date
    earliest: date
    latest: date | None


def theil_sen(days: Sequence[float], values: Sequence[float]) -> tuple[float, float, float]:
    """Median of the slopes between all pairs of different days, with Sen's 95 % interval, per day.

    Notes
    -----
    Source: Sen PK. J Am Stat Assoc 1968;63:1379-1389 (clinical reference 8.4), tied days left out and tied
    values corrected for.
    """
    at, seen = np.asarray(days, dtype=float), np.asarray(values, dtype=float)
    later, earlier = _pairs(len(at))
    apart, risen = at[later] - at[earlier], seen[later] - seen[earlier]
    if not apart.all():
        apart, risen = apart[apart != 0], risen[apart != 0]
    slopes = np.sort(risen / apart)
    reach = NORMAL_REACH * math.sqrt(_variance(days, values))
    count = len(slopes)
    upper = min(round((count + reach) / 2), count - 1)
    lower = max(round((count - reach) / 2) - 1, 0)
    middle = (slopes[(count - 1) // 2] + slopes[count // 2]) / 2
    return float(middle), float(slopes[lower]), float(slopes[upper])


def slope_of(visits: Sequence[Visit]) -> Slope | NotStated:
    """The slope of at least four values on different days over at least 180 days."""
    dates = [visit.on for visit in visits]
    if len(set(dates)) < FEWEST_POINTS:
        return NotStated(f"a slope needs {FEWEST_POINTS} comparable values on different days")
    start, end = min(dates), max(dates)
    if (end - start).days < FEWEST_DAYS:
        return NotStated(f"a slope needs values over at least {FEWEST_DAYS} days")
    days = [float((on - start).days) for on in dates]
    values = [float(visit.value) for visit in visits]
    slope, low, high = (part * DAYS_A_YEAR for part in theil_sen(days, values))
    level = LEVEL if len(set(dates)) > FEWEST_POINTS else LEVEL_OF_FOUR
    return Slope(slope, low, high, level, start, end, len(dates), (median(days), median(values)))


def crossing_of(slope: Slope | NotStated, limit: float, noise: ChangeNoise) -> Crossing | NotStated:
    """When the line would cross a limit; only for a slope whose interval excludes zero, and only ahead.

    The interval takes the steepest and the flattest slope, from a middle value that is itself as unsure as a
    median of so many visits. Never further ahead than the line is long.

    Notes
    -----
    Source: issue 4 (only with its interval, only when the slope's excludes zero); how the interval is made
    and how far ahead it may reach, ours.
    """
    if isinstance(slope, NotStated):
        return slope
    if not slope.excludes_zero:
        return NotStated("the slope may be nothing but noise")
    middle_day, middle = slope.pivot
    unsure = NORMAL_REACH * noise.sd_within * MEDIAN_OVER_MEAN / math.sqrt(slope.points)
    towards = 1 if slope.per_year > 0 else -1
    steep, flat = (slope.high, slope.low) if towards > 0 else (slope.low, slope.high)
    span = (slope.end - slope.start).days

    def days_until(per_year: float, value: float) -> float:
        return middle_day + (limit - value) / per_year * DAYS_A_YEAR

    best = days_until(slope.per_year, middle)
    if best <= span:
        return NotStated("the line does not go towards this limit, or is past it already")
    if best > 2 * span:
        return NotStated("too far ahead: further than the values reach back")
    soonest = max(days_until(steep, middle + towards * unsure), span)
    last = days_until(flat, middle - towards * unsure)
    latest = None if last > FURTHEST_YEARS * DAYS_A_YEAR else slope.start + timedelta(days=math.ceil(last))
    return Crossing(
        limit,
        slope.start + timedelta(days=round(best)),
        slope.start + timedelta(days=math.floor(soonest)),
        latest,
    )


@lru_cache(maxsize=16)
def _pairs(count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The later and the earlier of every two of so many; the series of a record are mostly as long."""
    later, earlier = np.tril_indices(count, -1)
    later.flags.writeable = earlier.flags.writeable = False
    return later, earlier


def _variance(days: Sequence[float], values: Sequence[float]) -> float:
    """Variance of Kendall's S, corrected for ties in either; 0 where ties in both leave nothing to vary."""

    def tied(items: Sequence[float]) -> int:
        return sum(k * (k - 1) * (2 * k + 5) for k in Counter(items).values())

    n = len(days)
    return max(n * (n - 1) * (2 * n + 5) - tied(days) - tied(values), 0) / 18
