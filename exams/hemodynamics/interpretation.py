"""interpret(): every finding of one exam, from the one implementation on arrays."""

from __future__ import annotations

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.evaluation import evaluate
from exams.hemodynamics.exam_findings import exam_findings
from exams.hemodynamics.findings import Finding, Interpretation
from exams.hemodynamics.index_findings import index_finding
from exams.hemodynamics.indices import ALL_INDICES
from exams.hemodynamics.limb import Limb, ReadExam, both_limbs
from exams.hemodynamics.measured import Context, MeasuredExam
from exams.hemodynamics.one_exam import exam_columns
from exams.hemodynamics.pattern_finding import pattern_finding
from exams.hemodynamics.pressure_findings import (
    ankle_pressure_finding,
    gradient_finding,
    repeats_finding,
    site_findings,
    toe_pressure_findings,
    toe_temperature_finding,
)
from exams.hemodynamics.urgency_finding import urgency_finding


def interpret(exam: MeasuredExam, criteria: Criteria, context: Context) -> Interpretation:
    """Every finding of an exam, those of the exam first, then RIGHT, then LEFT.

    Parameters
    ----------
    exam : MeasuredExam
    criteria : Criteria
    context : Context
        Facts of the patient and the feet that change what a number means.

    Notes
    -----
    Source: clinical reference 1, 2, 4.1, 6 under the criteria. One fact is said by one sentence.
    """
    results = evaluate(exam_columns(exam, criteria, context), criteria)
    return interpretation_of(*both_limbs(ReadExam(exam, criteria, context, results)))


def interpretation_of(right: Limb, left: Limb) -> Interpretation:
    """Every finding of an exam that was evaluated already, alone or among others."""
    findings = exam_findings(right, left)
    for limb in (right, left):
        findings += _limb_findings(limb)
    criteria = right.criteria
    return Interpretation(criteria.name, criteria.version, criteria.content_hash, tuple(findings))


def compare_criteria(
    exam: MeasuredExam, criteria: tuple[Criteria, ...], context: Context
) -> tuple[Interpretation, ...]:
    """The same exam under each of the criteria, in the order given."""
    return tuple(interpret(exam, one, context) for one in criteria)


def _limb_findings(limb: Limb) -> list[Finding]:
    found: list[Finding | None] = [
        urgency_finding(limb),
        pattern_finding(limb),
        *(index_finding(limb, index) for index in ALL_INDICES),
        ankle_pressure_finding(limb),
        *toe_pressure_findings(limb),
        gradient_finding(limb),
        *site_findings(limb),
        repeats_finding(limb),
        toe_temperature_finding(limb),
    ]
    return [finding for finding in found if finding is not None]
