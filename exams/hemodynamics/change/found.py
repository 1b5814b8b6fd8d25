"""What one exam found of one measure of a limb, cut down to what a comparison with another exam needs."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding, Input, Interpretation, NotStated
from exams.hemodynamics.measured import Side

ANKLE_MEASURES = ("ankle_brachial_index", "ankle_pressure")


class Way(NamedTuple):
    """How a value was measured. Two values measured the same way may be compared, if nothing happened.

    ``site`` and ``technique`` are of the pressure (of an index, of the one above the line), ``divided_by``
    site and technique of the one below it, ``arms`` the sides of the arms measured. ``position`` is as shown,
    "" where none was recorded.
    """

    is_index: bool
    site: str
    technique: str
    divided_by: tuple[str, str] | None = None
    arms: tuple[str, ...] = ()
    one_artery: bool = False
    cold_toe: bool = False
    position: str = ""
    not_flat: bool = False


class Found(NamedTuple):
    """``value`` is exact, in the unit of the measure; None where there is none, and ``reason`` says why.

    ``stiff``: an ankle measure of a limb whose ankle could not be measured reliably. ``way`` is None where
    nothing was measured.
    """

    value: Fraction | None
    shown: str
    reason: str = ""
    band: str = ""
    stiff: bool = False
    way: Way | None = None


def found_of(exam: Interpretation, limb: Side, measure: str) -> Found | None:
    """What an exam found of a measure; None where it has no finding of it."""
    finding = exam.of(measure, limb)
    if finding is None:
        return None
    stiff = measure in ANKLE_MEASURES and stiff_ankle(exam, limb)
    way = _way_of(finding, exam) if finding.inputs else None
    if isinstance(finding.value, NotStated):
        return Found(None, finding.shown, finding.value.reason, finding.band, stiff, way)
    return Found(exact(finding), finding.shown, "", finding.band, stiff, way)


def stiff_ankle(exam: Interpretation, limb: Side) -> bool:
    """Whether the ankle was too stiff to measure: its index says so for the pressure as well."""
    found = [finding for name in ANKLE_MEASURES if (finding := exam.of(name, limb)) is not None]
    return any(
        finding.band == "NON_COMPRESSIBLE" or {"MIXED", "LOWER_BOUND"} & set(finding.flags)
        for finding in found
    )


def exact(finding: Finding) -> Fraction:
    """The exact ratio of an index, the exact mmHg of a pressure."""
    top, bottom = input_of(finding, "numerator"), input_of(finding, "denominator")
    if top is not None and bottom is not None and top.mmhg is not None and bottom.mmhg is not None:
        return Fraction(top.mmhg) / Fraction(bottom.mmhg)
    if isinstance(finding.value, NotStated):
        raise InputError("change.no_value", finding.measure, finding.value.reason)
    return Fraction(finding.value)


def input_of(finding: Finding, role: str) -> Input | None:
    return next((item for item in finding.inputs if item.role == role), None)


def _way_of(finding: Finding, exam: Interpretation) -> Way:
    above = input_of(finding, "numerator") or finding.inputs[0]
    below = input_of(finding, "denominator")
    position = exam.of("position")
    measured = {item.side for item in finding.inputs if item.role == "arm" and item.mmhg is not None}
    return Way(
        is_index=finding.unit == "index",
        site=above.site,
        technique=above.technique,
        divided_by=None if below is None else (below.site, below.technique),
        arms=tuple(side.value for side in Side if side in measured),
        one_artery="ONE_ARTERY" in finding.flags,
        cold_toe="COLD_TOE" in finding.flags,
        position="" if position is None else position.shown,
        not_flat=position is not None and "NOT_FLAT" in position.flags,
    )
