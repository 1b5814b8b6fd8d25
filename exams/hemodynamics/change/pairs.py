"""A foot measured twice on two days, cuffs laid again in between: one pair for a clinic's own noise."""

from __future__ import annotations

from exams.hemodynamics.change.comparable import comparability
from exams.hemodynamics.change.found import found_of
from exams.hemodynamics.change.line import DatedExam
from exams.hemodynamics.change.repeatability import RepeatPair
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Side


def pair_of(
    first: DatedExam, second: DatedExam, limb: Side, measure: str, *, recuffed: bool
) -> tuple[str, RepeatPair] | NotStated:
    """The technique and the two exact values of a measure, or why they make no pair.

    Only what may be compared makes a pair: same site, toe, technique, arms and posture, both warm or both
    cold. What happened in between is for the caller to know.

    Raises
    ------
    InputError
        ``change.unknown_measure``.
    """
    reasons = comparability(first.found, second.found, limb, measure)
    one, other = (found_of(exam.found, limb, measure) for exam in (first, second))
    if reasons or one is None or other is None or one.value is None or other.value is None or not other.way:
        return NotStated("; ".join(reasons))
    values = float(one.value), float(other.value)
    return other.way.technique, RepeatPair(*values, first.on, second.on, recuffed)
