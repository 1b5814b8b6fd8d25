"""What the further tests share: a limit of the criteria met or not, and a finding made of it."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.criteria.model import Choice, Criteria, Threshold
from exams.hemodynamics.findings import Finding, Interval, NotStated
from exams.hemodynamics.measured import Outcome, Side, SiteReading
from exams.hemodynamics.words import mmhg_words, sentence

NO_NUMBER = NotStated("a judgement has no number")


def meets(criteria: Criteria, name: str, value: Fraction | int) -> bool:
    """Whether an exact value, in the limit's own unit, meets a limit of the criteria: no float decides."""
    limit = criteria.further[name]
    return {
        "<": value < limit.limit,
        "<=": value <= limit.limit,
        ">": value > limit.limit,
        ">=": value >= limit.limit,
    }[limit.operator]


def mmhg_of(reading: SiteReading | None) -> Fraction | None:
    """The exact pressure; None where there is no number."""
    if reading is None or reading.outcome is not Outcome.PRESSURE or reading.half_mmhg is None:
        return None
    return Fraction(reading.half_mmhg, 2)


def shown_mmhg(value: Fraction) -> Decimal:
    """Whole or half mmHg as it is."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact.normalize()


def further_finding(
    criteria: Criteria,
    measure: str,
    limb: Side | None,
    value: Decimal | NotStated,
    unit: str,
    authority: Threshold | Choice,
    *,
    band: str = "",
    band_words: str = "",
    said: str = "",
    flags: tuple[str, ...] = (),
    rule: str = "",
    shown: str = "",
) -> Finding:
    """A finding of a further test; no repeatability is published for any, so none has an interval.

    ``authority`` is who says so: a limit of the criteria, or a rule; without ``rule`` in its own words.
    """
    if isinstance(value, NotStated):
        shown = shown or value.reason
    else:
        plain = mmhg_words(value) if unit == "mmHg" else f"{value}{f' {unit}' if unit != 'index' else ''}"
        # With a sign that cannot be taken for a dash.
        shown = shown or plain.replace("-", "−", 1)
    interval: Interval | NotStated = NotStated("no published repeatability")
    return Finding(
        measure, limb, value, unit, shown, interval, band, band_words, flags, sentence(said),
        f"{criteria.label}: {rule or _words(authority)}", authority.source, authority.status,
    )  # fmt: skip


def _words(authority: Threshold | Choice) -> str:
    return authority.rule if isinstance(authority, Choice) else f"{authority.words} counts"
