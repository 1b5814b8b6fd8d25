"""Two exams: by how much do they differ, and is that more than noise."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.change.comparable import (
    MEASURE_WORDS,
    comparability,
    input_of,
    technique,
)
from exams.hemodynamics.change.noise_of_change import ChangeNoise, noise_of_change
from exams.hemodynamics.change.repeatability import OwnNoise
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import Finding, Input, Interpretation, Interval, NotStated
from exams.hemodynamics.measured import Side
from exams.hemodynamics.words import joined

BAND_WORDS = {
    "BEYOND_NOISE": "more than noise",
    "WITHIN_NOISE": "within noise",
    "NOT_COMPARABLE": "not comparable",
}


def change_between(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    criteria: Criteria,
    *,
    own: Sequence[OwnNoise] = (),
    breaks: tuple[str, ...] = (),
) -> Finding:
    """Later minus earlier, with the band inside which an unchanged foot stays.

    Parameters
    ----------
    own : sequence of OwnNoise
        The clinic's own noise; it takes the place of the published one of its measure and technique.
    breaks : tuple of str
        What happened to the limb in between, from ``breaks_between``.

    Returns
    -------
    Finding
        Measure ``<measure>_change``; band BEYOND_NOISE, WITHIN_NOISE or NOT_COMPARABLE. The interval is the
        difference less and plus the smallest change beyond noise.

    Raises
    ------
    InputError
        ``change.unknown_measure``.

    Notes
    -----
    Source: clinical reference 7 (ROMANOS10, AUTO15, PAGES); exact ratios, shown to 2 decimals (1.4).
    """
    if measure not in MEASURE_WORDS:
        raise InputError("change.unknown_measure", "measure", measure, tuple(MEASURE_WORDS))
    reasons = comparability(earlier, later, limb, measure, breaks=breaks)
    before, after = earlier.of(measure, limb), later.of(measure, limb)
    way = technique(after) if after is not None and after.inputs else ""
    noise = noise_of_change(measure, way, criteria, own)
    if isinstance(noise, NotStated):
        raise InputError("change.unknown_measure", "measure", measure, tuple(MEASURE_WORDS))
    title = f"{limb.word} {MEASURE_WORDS[measure]}"
    if reasons or before is None or after is None:
        why = "; ".join(reasons)
        return _finding(
            measure, limb, NotStated(why), "not comparable", NotStated(why), "NOT_COMPARABLE",
            f"{title}: not comparable with the earlier exam: {why}", criteria, noise, (),
        )  # fmt: skip
    difference = exact(after) - exact(before)
    beyond = noise.is_beyond(difference)
    value = shown_difference(difference, measure)
    interval = Interval(
        value - noise.limit, value + noise.limit, round_half_up(noise.limit / Decimal("1.96"), 3)
    )
    direction = "up" if value > 0 else "down" if value < 0 else "unchanged"
    unit = " mmHg" if measure == "toe_pressure" else ""
    size = f" {abs(value)}{unit}" if value else ""
    verdict = (
        f"more than repeat measurements differ by ({noise.limit}{unit})"
        if beyond
        else f"within what repeat measurements differ by ({noise.limit}{unit})"
    )
    return _finding(
        measure, limb, value, f"{value:+}{unit}", interval, "BEYOND_NOISE" if beyond else "WITHIN_NOISE",
        f"{title} {_plain(before)} to {_plain(after)}: {direction}{size}, {verdict}", criteria, noise,
        (*before.inputs[:1], *after.inputs[:1]),
    )  # fmt: skip


def exact(finding: Finding) -> Fraction:
    """The exact ratio of an index, the exact mmHg of a pressure."""
    top, bottom = input_of(finding, "numerator"), input_of(finding, "denominator")
    if top is not None and bottom is not None and top.mmhg is not None and bottom.mmhg is not None:
        return Fraction(top.mmhg) / Fraction(bottom.mmhg)
    if isinstance(finding.value, NotStated):
        raise InputError("change.no_value", finding.measure, finding.value.reason)
    return Fraction(finding.value)


def shown_difference(difference: Fraction, measure: str) -> Decimal:
    """A pressure in whole or half mmHg as it is, an index to two decimals."""
    value = Decimal(difference.numerator) / Decimal(difference.denominator)
    if not measure.endswith("_pressure"):
        return round_half_up(value, 2)
    return value.normalize() if value != value.to_integral_value() else value.quantize(Decimal(1))


def _plain(finding: Finding) -> str:
    return str(finding.value) if not isinstance(finding.value, NotStated) else finding.shown


def _finding(
    measure: str,
    limb: Side,
    value: Decimal | NotStated,
    shown: str,
    interval: Interval | NotStated,
    band: str,
    sentence: str,
    criteria: Criteria,
    noise: ChangeNoise,
    inputs: tuple[Input, ...],
) -> Finding:
    counts_from = f"{noise.limit} or more" if noise.operator == ">=" else f"above {noise.limit}"
    return Finding(
        measure=f"{measure}_change",
        limb=limb,
        value=value,
        unit="mmHg" if measure == "toe_pressure" else "index",
        shown=shown,
        interval=interval,
        band=band,
        band_words=BAND_WORDS[band],
        flags=(),
        sentence=joined([sentence]),
        rule=f"{criteria.label}: a change counts from {counts_from}",
        source=noise.source,
        status=noise.status,
        inputs=inputs,
    )
