"""Every further test of one exam, read by one set of criteria: the sister of ``interpret``."""

from __future__ import annotations

from dataclasses import dataclass, replace

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.findings import Finding, Interpretation
from exams.hemodynamics.further_tests.category import CategoryEvidence, Fontaine, category_finding
from exams.hemodynamics.further_tests.exercise import ExercisedLimb, exercise_findings
from exams.hemodynamics.further_tests.oxygen import Oxygen, oxygen_findings
from exams.hemodynamics.further_tests.pulse_volume import is_flat_or_barely_pulsatile, pulse_volume_finding
from exams.hemodynamics.further_tests.segments import SegmentalLimb, segmental_findings
from exams.hemodynamics.further_tests.waveform import Waveform, waveform_finding
from exams.hemodynamics.measured import Side, SiteReading

# Where a flat pulse volume speaks for critical ischaemia; at the thigh it says nothing of the foot.
FLAT_COUNTS_AT = ("ankle", "forefoot")


@dataclass(frozen=True, slots=True)
class EnteredCategory:
    """A Rutherford category of one limb as a clinician entered it.

    What the other tests of the exam say is added to ``evidence`` when it is read: pulse volume, exercise.
    """

    side: Side
    category: int
    evidence: CategoryEvidence
    fontaine: Fontaine | None = None


@dataclass(frozen=True, slots=True)
class FurtherTests:
    """What was done of an exam's further tests; what was not done is empty.

    ``segments`` are RIGHT, LEFT and the arm. ``pulse_volumes`` are side, place and category; a place that
    oxygen was measured at is a measure of its own, named by its code: ``back_of_foot``.
    """

    exercised: tuple[ExercisedLimb, ...] = ()
    segments: tuple[SegmentalLimb, SegmentalLimb, SiteReading] | None = None
    waveforms: tuple[tuple[Side, str, Waveform], ...] = ()
    pulse_volumes: tuple[tuple[Side, str, int], ...] = ()
    oxygen: tuple[tuple[str, Oxygen], ...] = ()
    categories: tuple[EnteredCategory, ...] = ()


def interpret_further(tests: FurtherTests, criteria: Criteria) -> Interpretation:
    """Every finding of the further tests, each with the limit of these criteria that decided it.

    In the order of the tests: exercise, segments, waveforms, pulse volume, oxygen, category.
    """
    exercise = [one for limb in tests.exercised for one in exercise_findings(limb, criteria)]
    found = [*exercise, *_segments(tests, criteria)]
    found += [waveform_finding(side, artery, one, criteria) for side, artery, one in tests.waveforms]
    found += [pulse_volume_finding(side, place, one, criteria) for side, place, one in tests.pulse_volumes]
    found += [
        replace(one, measure=f"{place}_{one.measure}")
        for place, oxygen in tests.oxygen
        for one in oxygen_findings(oxygen, criteria)
    ]
    found += [_category(one, tests, exercise, criteria) for one in tests.categories]
    return Interpretation(criteria.name, criteria.version, criteria.content_hash, tuple(found))


def _segments(tests: FurtherTests, criteria: Criteria) -> list[Finding]:
    if tests.segments is None:
        return []
    right, left, arm = tests.segments
    measured = {limb.side for limb in (right, left) if limb.pressures}
    # A leg that was not measured has nothing to say, and no side to be compared with.
    return [
        one
        for one in segmental_findings(right, left, arm, criteria)
        if (one.limb in measured if one.limb else len(measured) == 2)
    ]


def _category(
    entered: EnteredCategory, tests: FurtherTests, exercise: list[Finding], criteria: Criteria
) -> Finding:
    flat = [
        is_flat_or_barely_pulsatile(category, criteria)
        for side, place, category in tests.pulse_volumes
        if side is entered.side and place in FLAT_COUNTS_AT
    ]
    verdict = next(
        (one for one in exercise if one.limb is entered.side and one.measure == "exercise_test"), None
    )
    evidence = replace(
        entered.evidence,
        flat_pulse_volume=any(flat) if flat else None,
        exercise_positive=verdict.band == "POSITIVE" if verdict and verdict.band else None,
    )
    return category_finding(entered.side, entered.category, evidence, criteria, entered.fontaine)
