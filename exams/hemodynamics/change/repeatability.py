"""How far two measurements of the same foot differ: a clinic's own pairs, and published studies.

Source: clinical reference 7; each row names its study. "status" says how well the figures were confirmed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import NotStated

LIMIT_FACTOR = 1.96


@dataclass(frozen=True, slots=True)
class Repeatability:
    """One study of one measure; limits of agreement in the unit of the measure (mmHg, or index)."""

    measure: str
    design: str
    automated: bool
    icc: float
    lower: float
    upper: float
    source: str
    status: str

    @property
    def sd_of_differences(self) -> float:
        """Width of the limits of agreement over 3.92."""
        return (self.upper - self.lower) / (2 * LIMIT_FACTOR)

    @property
    def sd_within(self) -> float:
        """SD of one measurement: that of the differences over the square root of 2."""
        return self.sd_of_differences / math.sqrt(2)

    @property
    def reference_change(self) -> float:
        """The change that 95 % of unchanged feet stay below: half the width of the limits of agreement."""
        return LIMIT_FACTOR * math.sqrt(2) * self.sd_within


_ROMANOS = "Romanos MT, Raspovic A, Perrin BM. J Foot Ankle Res 2010;3:31"
_AUTOMATED = "Blood Press Monit 2015, PMID 25171258"
_CASEY = "Casey S, et al. J Foot Ankle Res 2020;13 (s13047-020-00389-w)"
_PRIMARY = "confirmed in the primary text"

REPEATABILITY = (
    Repeatability(
        "toe_pressure", "same rater, diabetes, n 30, one week", False, 0.87, -25.97, 26.06, _ROMANOS, _PRIMARY
    ),
    Repeatability(
        "toe_pressure", "two raters, diabetes, n 30", False, 0.88, -22.91, 29.17, _ROMANOS, _PRIMARY
    ),
    Repeatability(
        "toe_brachial_index", "same rater, diabetes, n 30", False, 0.75, -0.22, 0.28, _ROMANOS, _PRIMARY
    ),
    Repeatability(
        "toe_brachial_index", "two raters, diabetes, n 30", False, 0.77, -0.21, 0.22, _ROMANOS, _PRIMARY
    ),
    Repeatability(
        "toe_pressure", "two raters, automated, n 40", True, 0.85, -14.4, 21.1, _AUTOMATED, _PRIMARY
    ),
    Repeatability(
        "toe_brachial_index", "two raters, automated, n 40", True, 0.83, -0.16, 0.20, _AUTOMATED, _PRIMARY
    ),
    Repeatability(
        "arm_pressure", "two raters, automated, n 40", True, 0.82, -21.2, 22.9, _AUTOMATED, _PRIMARY
    ),
    Repeatability("ankle_brachial_index", "same rater, n 85", False, 0.80, -0.16, 0.16, _CASEY, _PRIMARY),
)

PAIRS_NEEDED = 30  # clinical reference 7


@dataclass(frozen=True, slots=True)
class RepeatPair:
    """The same foot, site, toe and technique measured twice; values in the unit of the measure.

    ``recuffed``: the cuff was taken off and put on again in between.
    """

    first: float
    second: float
    first_on: date
    second_on: date
    recuffed: bool

    @property
    def tells_of_a_change(self) -> bool:
        """Same-visit repeats, or a cuff left on, understate the noise of a change."""
        return self.recuffed and self.first_on != self.second_on


@dataclass(frozen=True, slots=True)
class OwnNoise:
    """A clinic's own SD of one measurement, from pairs re-cuffed on another day.

    Raises InputError ``noise.too_few_pairs`` under 30 pairs, ``noise.not_positive`` for an SD not above 0.
    """

    measure: str
    technique: str
    sd_within: float
    pairs: int
    study: str

    def __post_init__(self) -> None:
        if self.pairs < PAIRS_NEEDED:
            raise InputError("noise.too_few_pairs", "pairs", self.pairs, PAIRS_NEEDED)
        if not (math.isfinite(self.sd_within) and self.sd_within > 0):
            raise InputError("noise.not_positive", "sd_within", self.sd_within)

    @property
    def reference_change(self) -> float:
        """The change that 95 % of unchanged feet stay below, in the unit of the measure."""
        return LIMIT_FACTOR * math.sqrt(2) * self.sd_within

    @property
    def reference_interval(self) -> tuple[float, float]:
        """The 95 % interval of that change."""
        low, high = sd_interval(self.sd_within, self.pairs)
        return LIMIT_FACTOR * math.sqrt(2) * low, LIMIT_FACTOR * math.sqrt(2) * high


def sd_within(pairs: Sequence[tuple[float, float]]) -> float:
    """SD of one measurement: root of half the mean squared difference (about 0: a drift counts as noise).

    Notes
    -----
    Source: Bland JM, Altman DG. Lancet 1986;i:307-310 (clinical reference 8.1).
    """
    return math.sqrt(sum((a - b) ** 2 for a, b in pairs) / (2 * len(pairs)))


def sd_interval(sd: float, pairs: int) -> tuple[float, float]:
    """95 % interval of an SD within, from so many pairs: each gives one degree of freedom about 0.

    Notes
    -----
    Source: the chi-squared interval of a variance, common practice in statistics, no source; it supposes
    differences that are about normal and pairs that know nothing of each other.
    """
    from scipy.special import chdtri

    # chdtri asks for the share above.
    return (
        sd * math.sqrt(pairs / float(chdtri(pairs, 0.025))),
        sd * math.sqrt(pairs / float(chdtri(pairs, 0.975))),
    )


def own_noise(measure: str, technique: str, pairs: Sequence[RepeatPair], study: str) -> OwnNoise | NotStated:
    """The clinic's own noise from its pairs, or why there is none yet."""
    telling = [(pair.first, pair.second) for pair in pairs if pair.tells_of_a_change]
    if len(telling) < PAIRS_NEEDED:
        return NotStated(f"{len(telling)} of {PAIRS_NEEDED} pairs re-cuffed on another day")
    sd = sd_within(telling)
    if sd == 0:
        return NotStated("no pair differs at all: check how the pairs were taken")
    return OwnNoise(measure, technique, sd, len(telling), study)
