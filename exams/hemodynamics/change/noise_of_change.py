"""The change that an unchanged foot stays below: the clinic's own if it has enough pairs, else published."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.change.comparable import MEASURE_WORDS
from exams.hemodynamics.change.repeatability import LIMIT_FACTOR, OwnNoise
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.findings import NotStated

AUTOMATED_TECHNIQUES = ("oscillometric", "automated")


@dataclass(frozen=True, slots=True)
class ChangeNoise:
    """The smallest change beyond noise, in the unit of the measure (mmHg, or index).

    ``operator`` ">=" or ">": whether the limit itself counts. ``is_own``: from the clinic's own pairs.
    """

    limit: Decimal
    operator: str
    is_own: bool
    source: str
    status: str

    @property
    def words(self) -> str:
        """Whose it is: "this clinic: …", or "published, ROMANOS10"."""
        return self.source if self.is_own else f"published, {self.source}"

    @property
    def sd_of_difference(self) -> float:
        return float(self.limit) / LIMIT_FACTOR

    @property
    def sd_within(self) -> float:
        """SD of one measurement from visit to visit."""
        return self.sd_of_difference / math.sqrt(2)

    def is_beyond(self, difference: Fraction | Decimal) -> bool:
        size, limit = abs(Fraction(difference)), Fraction(self.limit)
        return size >= limit if self.operator == ">=" else size > limit


def noise_of_change(
    measure: str, technique: str, criteria: Criteria, own: Sequence[OwnNoise] = ()
) -> ChangeNoise | NotStated:
    """The noise a change of this measure by this technique is held against.

    Parameters
    ----------
    technique : str
        As in the inputs of a finding; of an ankle measured two ways, both joined by "+".
    own : sequence of OwnNoise
        The clinic's studies; only one of the same measure and technique counts (30 pairs re-cuffed on
        another day each, or it could not exist).

    Notes
    -----
    Source: clinical reference 7. An ankle pressure alone has no published noise.
    """
    for study in own:
        if study.measure == measure and study.technique == technique:
            step = Decimal(1).scaleb(-1 if measure.endswith("_pressure") else -3)
            limit = Decimal(study.reference_change).quantize(step)
            low, high = (Decimal(end).quantize(step) for end in study.reference_interval)
            source = f"this clinic: {study.study}, {study.pairs} pairs, 95 % interval {low} to {high}"
            return ChangeNoise(limit, ">=", True, source, "own pairs, re-cuffed on another day")
    if measure not in MEASURE_WORDS:
        return NotStated("no published repeatability of an ankle pressure alone, go by the index")
    automated = any(one in AUTOMATED_TECHNIQUES for one in technique.split("+"))
    limit_row = criteria.thresholds[_threshold_name(measure, automated=automated)]
    scale = 1 if measure == "toe_pressure" else 100
    return ChangeNoise(
        Decimal(limit_row.limit) / scale, limit_row.operator, False, limit_row.source, limit_row.status
    )


def _threshold_name(measure: str, *, automated: bool) -> str:
    if measure == "ankle_brachial_index":
        return "change_ankle_brachial_index_hundredths"
    way = "automated" if automated else "manual"
    return f"change_{measure}_{way}_{'mmhg' if measure == 'toe_pressure' else 'hundredths'}"
