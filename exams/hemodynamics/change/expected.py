"""What to expect today if nothing has changed, and how likely a value lies below a limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from statistics import NormalDist

from exams.hemodynamics.change.line import Line, Visit
from exams.hemodynamics.change.noise_of_change import ChangeNoise, noise_of_change
from exams.hemodynamics.change.repeatability import OwnNoise
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.findings import Finding, NotStated

MOST_VALUES = 3  # older ones say little of today (ours)


@dataclass(frozen=True, slots=True)
class ExpectedRange:
    """Where 95 of 100 values lie if nothing has changed, ends included, rounded outwards.

    ``from_days`` are the days of the values it rests on, the oldest first.
    """

    low: Decimal
    high: Decimal
    unit: str
    from_days: tuple[date, ...]
    noise: ChangeNoise

    def stands(self, value: Decimal) -> str:
        """ "below", "within" or "above": the value being typed against what is expected."""
        return "below" if value < self.low else "above" if value > self.high else "within"


def expected_today(
    line: Line | NotStated, criteria: Criteria, own: Sequence[OwnNoise] = ()
) -> ExpectedRange | NotStated:
    """The range expected today, from the newest values of a line that agree within noise.

    Up to three values are averaged, back to the first that lies beyond noise of any newer one; the range is
    their mean less and plus 1.96 times the SD of one value, times the root of 1 + 1/k.

    Notes
    -----
    Source: prediction interval for a further value about the mean of k, SD known; noise, clinical
    reference 7. With one value it is the published smallest change to either side.
    """
    if isinstance(line, NotStated):
        return line
    noise = noise_of_change(line.measure, line.technique, criteria, own)
    if isinstance(noise, NotStated):
        return noise
    agreeing = _agreeing(line.visits, noise)
    mean = sum((visit.value for visit in agreeing), Fraction(0)) / len(agreeing)
    share = math.sqrt((1 + 1 / len(agreeing)) / 2)  # 1 for one value: the difference of two
    centre, half = Decimal(mean.numerator) / Decimal(mean.denominator), noise.limit * Decimal(share)
    step = Decimal(1) if line.unit == "mmHg" else Decimal("0.01")
    lowest = step if line.unit == "mmHg" else Decimal(0)
    return ExpectedRange(
        max((centre - half).quantize(step, ROUND_FLOOR), lowest),
        (centre + half).quantize(step, ROUND_CEILING),
        line.unit,
        tuple(visit.on for visit in agreeing),
        noise,
    )


def probability_below(finding: Finding, limit: Decimal) -> float | NotStated:
    """How likely the true value of one visit lies below a limit, 0 to 1.

    Of an index that which reads below the limit once rounded to hundredths, as the bands do.

    Notes
    -----
    Source: clinical reference 7 (on rounded hundredths, without random numbers). At the limits of the bands
    the finding's own, integrated probability is used; elsewhere the normal curve of its SD.
    """
    if isinstance(finding.value, NotStated) or isinstance(finding.interval, NotStated):
        why = finding.value if isinstance(finding.value, NotStated) else finding.interval
        return why if isinstance(why, NotStated) else NotStated("no interval")
    below = limit - Decimal("0.01") if finding.unit == "index" else limit
    wanted = "<=" if finding.unit == "index" else "<"
    for edge in finding.interval.beyond:
        if edge.operator == wanted and edge.limit == below:
            return edge.probability
    edge_at = limit - Decimal("0.005") if finding.unit == "index" else limit
    curve = NormalDist(float(finding.value), float(finding.interval.sd))
    return round(curve.cdf(float(edge_at)), 4)


def _agreeing(visits: Sequence[Visit], noise: ChangeNoise) -> list[Visit]:
    kept: list[Visit] = []
    for visit in reversed(visits[-MOST_VALUES:]):
        if any(noise.is_beyond(visit.value - newer.value) for newer in kept):
            break
        kept.insert(0, visit)
    return kept
