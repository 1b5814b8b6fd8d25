"""What a run chart and a funnel plot say, by published rules. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reports.audit.statistics import Z

RUN_RULE = (
    "Limits: centre line ± 3 standard errors of each point's share (Shewhart p chart, Montgomery DC, "
    "Introduction to Statistical Quality Control), at its effective size. Runs: Anhøj J, Olesen AV, "
    "PLoS ONE 2014;9:e113825: a signal is a run longer than log2(n) + 3 or fewer crossings of the centre "
    "line than the lower 5 % of chance; points on the line do not count."
)
FUNNEL_RULE = (
    "Exact binomial limits of 95 % and 99.8 % around the share of all clinics: Spiegelhalter DJ, "
    "Stat Med 2005;24:1185-1202. Comparisons between clinics are not fair without case-mix."
)
# Fewer useful points than these say nothing about runs (Anhøj and Olesen).
LEAST_POINTS = 10
FUNNEL_LEVELS = (0.95, 0.998)


@dataclass(frozen=True)
class Runs:
    """What the runs say. ``useful`` points lie off the centre line."""

    useful: int
    longest: int
    longest_allowed: int
    crossings: int
    crossings_needed: int

    @property
    def enough(self) -> bool:
        return self.useful >= LEAST_POINTS

    @property
    def shift(self) -> bool:
        return self.enough and self.longest > self.longest_allowed

    @property
    def too_few_crossings(self) -> bool:
        return self.enough and self.crossings < self.crossings_needed

    @property
    def words(self) -> str:
        if not self.enough:
            return f"{self.useful} useful points: runs are judged from {LEAST_POINTS} on."
        said = []
        if self.shift:
            said.append(f"a run of {self.longest} on one side (more than {self.longest_allowed})")
        if self.too_few_crossings:
            said.append(
                f"only {self.crossings} crossings of the centre line (fewer than {self.crossings_needed})"
            )
        if said:
            return f"More than chance: {' and '.join(said)}."
        return (
            f"No sign of more than chance: longest run {self.longest} (limit {self.longest_allowed}), "
            f"{self.crossings} crossings (at least {self.crossings_needed})."
        )


def runs_of(values: Sequence[float], centre: float) -> Runs:
    """Longest run and crossings of the values off the centre line, with the limits for as many."""
    sides = [value > centre for value in values if value != centre]
    longest = current = 0
    for index, side in enumerate(sides):
        current = current + 1 if index and side == sides[index - 1] else 1
        longest = max(longest, current)
    crossings = sum(one != other for one, other in pairwise(sides))
    return Runs(len(sides), longest, longest_run(len(sides)), crossings, fewest_crossings(len(sides)))


def longest_run(useful: int) -> int:
    """The longest run that chance explains: log2(n) + 3, rounded."""
    return round(math.log2(useful) + 3) if useful else 0


def fewest_crossings(useful: int) -> int:
    """The lower 5 % of crossings among n - 1 even chances: the smallest k with P(X <= k) >= 0.05."""
    if useful < 2:
        return 0
    total, below = 2 ** (useful - 1), 0
    for crossings in range(useful):
        below += math.comb(useful - 1, crossings)
        if below >= 0.05 * total:
            return crossings
    raise AssertionError("chances sum to one")


@dataclass(frozen=True)
class Point:
    """One point of a chart of shares: units met, of how many, and the effective size of these."""

    met: int
    of: int
    deff: float = 1.0

    @property
    def share(self) -> float:
        return self.met / self.of

    @property
    def size(self) -> float:
        return self.of / self.deff


def centre_of(points: Sequence[Point]) -> float | None:
    """The share of all points together."""
    of = sum(one.of for one in points)
    return sum(one.met for one in points) / of if of else None


def limits_of(centre: float, size: float) -> tuple[float, float]:
    """Three standard errors about the centre line for a point of this size, cut at 0 and 1."""
    apart = 3 * math.sqrt(centre * (1 - centre) / size)
    return max(0.0, centre - apart), min(1.0, centre + apart)


def funnel_limits(target: float, size: int, level: float) -> tuple[float, float]:
    """The exact binomial limits of a share around ``target`` for ``size`` units, interpolated.

    Raises
    ------
    ValueError
        If the target is not inside 0 and 1, where a funnel has no width.
    """
    if not 0 < target < 1 or size < 1:
        raise ValueError("a funnel needs a target inside 0 and 1, and a size")
    tail = (1 - level) / 2
    return _quantile(target, size, tail), _quantile(target, size, 1 - tail)


def _quantile(target: float, size: int, chance: float) -> float:
    from scipy.special import bdtr  # not needed by pages without a funnel

    # The normal quantile is close by; from there one or two steps.
    guess = size * target + (Z if chance > 0.5 else -Z) * math.sqrt(size * target * (1 - target))
    count = min(max(round(guess), 0), size)
    while count > 0 and bdtr(count - 1, size, target) >= chance:
        count -= 1
    while bdtr(count, size, target) < chance:
        count += 1
    here, before = bdtr(count, size, target), bdtr(count - 1, size, target) if count else 0.0
    part = (here - chance) / (here - before)
    return float(min(1.0, max(0.0, (count - part) / size)))
