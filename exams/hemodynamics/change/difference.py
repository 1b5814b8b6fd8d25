"""Two exams: by how much do they differ, and is that more than noise."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.change.comparable import COMPARED, MEASURE_WORDS, reasons_between
from exams.hemodynamics.change.found import found_of
from exams.hemodynamics.change.noise_of_change import ChangeNoise, noise_of_change
from exams.hemodynamics.change.repeatability import OwnNoise
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import Finding, Input, Interpretation, Interval, NotStated
from exams.hemodynamics.measured import Side
from exams.hemodynamics.words import joined

TITLES = {**MEASURE_WORDS, "ankle_pressure": "ankle pressure"}
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
        difference less and plus the smallest change beyond noise. An ankle pressure can be compared only by
        the clinic's own noise: none is published.

    Raises
    ------
    InputError
        ``change.unknown_measure``.

    Notes
    -----
    Source: clinical reference 7 (ROMANOS10, AUTO15, PAGES); exact ratios, shown to 2 decimals (1.4).
    """
    if measure not in COMPARED:
        raise InputError("change.unknown_measure", "measure", measure, COMPARED)
    before, after = found_of(earlier, limb, measure), found_of(later, limb, measure)
    reasons = reasons_between(before, after, breaks=breaks)
    way = after.way.technique if after is not None and after.way else ""
    noise = noise_of_change(measure, way, criteria, own)
    title = f"{limb.word} {TITLES[measure]}"
    if isinstance(noise, NotStated) and not reasons:
        reasons = (noise.reason,)
    if (
        reasons
        or isinstance(noise, NotStated)
        or before is None
        or after is None
        or before.value is None
        or after.value is None
    ):
        why = "; ".join(reasons)
        return _finding(
            measure, limb, NotStated(why), "not comparable", NotStated(why), "NOT_COMPARABLE",
            f"{title}: not comparable with the earlier exam: {why}", criteria, noise, (),
        )  # fmt: skip
    difference = after.value - before.value
    beyond = noise.is_beyond(difference)
    value = shown_difference(difference, measure)
    interval = Interval(
        value - noise.limit, value + noise.limit, round_half_up(noise.limit / Decimal("1.96"), 3)
    )
    findings = [one for exam in (earlier, later) if (one := exam.of(measure, limb)) is not None]
    was, now = (str(one.value) for one in findings)
    direction = "up" if value > 0 else "down" if value < 0 else "unchanged"
    unit = " mmHg" if measure.endswith("_pressure") else ""
    size = f" {abs(value)}{unit}" if value else ""
    verdict = (
        f"more than repeat measurements differ by ({noise.limit}{unit})"
        if beyond
        else f"within what repeat measurements differ by ({noise.limit}{unit})"
    )
    return _finding(
        measure, limb, value, f"{value:+}{unit}", interval, "BEYOND_NOISE" if beyond else "WITHIN_NOISE",
        f"{title} {was} to {now}: {direction}{size}, {verdict}", criteria, noise,
        tuple(made_from for one in findings for made_from in one.inputs[:1]),
    )  # fmt: skip


def shown_difference(difference: Fraction, measure: str) -> Decimal:
    """A pressure in whole or half mmHg as it is, an index to two decimals."""
    value = Decimal(difference.numerator) / Decimal(difference.denominator)
    if not measure.endswith("_pressure"):
        return round_half_up(value, 2)
    return value.normalize() if value != value.to_integral_value() else value.quantize(Decimal(1))


def _finding(
    measure: str,
    limb: Side,
    value: Decimal | NotStated,
    shown: str,
    interval: Interval | NotStated,
    band: str,
    sentence: str,
    criteria: Criteria,
    noise: ChangeNoise | NotStated,
    inputs: tuple[Input, ...],
) -> Finding:
    if isinstance(noise, NotStated):
        rule, source, status = noise.reason, "", ""
    else:
        counts_from = f"{noise.limit} or more" if noise.operator == ">=" else f"above {noise.limit}"
        rule, source, status = f"a change counts from {counts_from}", noise.source, noise.status
    return Finding(
        measure=f"{measure}_change",
        limb=limb,
        value=value,
        unit="mmHg" if measure.endswith("_pressure") else "index",
        shown=shown,
        interval=interval,
        band=band,
        band_words=BAND_WORDS[band],
        flags=(),
        sentence=joined([sentence]),
        rule=f"{criteria.label}: {rule}",
        source=source,
        status=status,
        inputs=inputs,
    )
