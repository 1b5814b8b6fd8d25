"""How far two measurements of the same foot differ: published studies, and what follows from each.

Source: clinical reference 7; each row names its study. "status" says how well the figures were confirmed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

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
