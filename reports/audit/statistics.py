"""Intervals, medians and differences. Pure: numbers in, numbers out; ``None`` where a thing is not stated."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

# The 0.975 quantile of the normal distribution: all intervals here are of 95 %.
Z = 1.959963984540054


@dataclass(frozen=True)
class Share:
    """A share with its 95 % interval; ``deff`` says by how much patients counted repeatedly widen it."""

    share: float
    low: float
    high: float
    deff: float = 1.0


@dataclass(frozen=True)
class Quartiles:
    first: float
    median: float
    third: float


@dataclass(frozen=True)
class Difference:
    """Second less first, with its 95 % interval."""

    difference: float
    low: float
    high: float


def share_of(met: int, of: int, deff: float = 1.0) -> Share | None:
    """A share with Wilson's interval at the effective size ``of / deff``; None of nothing.

    Source: Wilson EB, J Am Stat Assoc 1927;22:209-212. The effective size is that of a cluster sample (Kish
    L, Survey Sampling, 1965).
    """
    if of <= 0:
        return None
    share, size = met / of, of / deff
    middle = (share + Z * Z / (2 * size)) / (1 + Z * Z / size)
    half = Z * math.sqrt(share * (1 - share) / size + Z * Z / (4 * size * size)) / (1 + Z * Z / size)
    return Share(share, max(0.0, middle - half), min(1.0, middle + half), deff)


def design_effect(*, met: int, of: int, people: int, met_met: int, met_of: int, of_of: int) -> float:
    """By how much the variance of a share grows because some patients are counted more than once; at least 1.

    Parameters
    ----------
    met, of : int
        Units in the numerator and in the denominator.
    people : int
        Patients in the denominator.
    met_met, met_of, of_of : int
        Over the patients, the sums of (their units met)², met × counted, and counted².

    Notes
    -----
    The cluster-robust variance of a mean, patients being the clusters, with the factor m/(m-1), over the
    binomial variance. At a share of 0 or 1, which has no variance, the units of one patient are taken to be
    all alike, the widest there is: the sum of counted² over the units. An interval is never narrowed.
    """
    if of <= 0 or people <= 0:
        return 1.0
    share = met / of
    if met in (0, of) or people < 2:
        return max(1.0, of_of / of)
    squares = met_met - 2 * share * met_of + share * share * of_of
    robust = people / (people - 1) * squares / (of * of)
    return max(1.0, robust / (share * (1 - share) / of))


def difference_of(first: Share, second: Share) -> Difference:
    """Second share less first, with the hybrid score interval of their Wilson intervals.

    Source: Newcombe RG, Stat Med 1998;17:873-890, method 10.
    """
    apart = second.share - first.share
    below = math.hypot(second.share - second.low, first.high - first.share)
    above = math.hypot(second.high - second.share, first.share - first.low)
    return Difference(apart, apart - below, apart + above)


def quartiles_of(counts: Mapping[float, int]) -> Quartiles | None:
    """Quartiles of values given with how often each occurs; interpolated linearly, as is usual."""
    many = sum(counts.values())
    if not many:
        return None
    ordered = sorted(counts.items())

    def at(place: int) -> float:
        for value, times in ordered:
            if place < times:
                return float(value)
            place -= times
        raise AssertionError("a place beyond the last value")

    def quantile(part: float) -> float:
        place = part * (many - 1)
        below = math.floor(place)
        low, high = at(below), at(math.ceil(place))
        return low + (high - low) * (place - below)

    return Quartiles(quantile(0.25), quantile(0.5), quantile(0.75))


def mean_and_sd_of(counts: Mapping[float, int]) -> tuple[float, float] | None:
    """Mean and SD (n - 1) of values given with how often each occurs; None below two values."""
    many = sum(counts.values())
    if many < 2:
        return None
    mean = sum(value * times for value, times in counts.items()) / many
    squares = sum(times * (value - mean) ** 2 for value, times in counts.items())
    return mean, math.sqrt(squares / (many - 1))
