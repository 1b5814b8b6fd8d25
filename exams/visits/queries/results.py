"""Stored findings, given back as the core's own objects."""

from collections.abc import Collection, Iterable
from typing import Any

from exams.hemodynamics import Finding, Interpretation
from exams.visits.models import Exam, Result


def stored_interpretation(exam: Exam) -> Interpretation:
    """The findings of an exam as they are stored; one query."""
    return stored_interpretations([exam])[exam.pk]


def stored_interpretations(
    exams: Iterable[Exam], measures: Collection[str] | None = None
) -> dict[int, Interpretation]:
    """The stored findings of exams, by the exam's number; one query for any number of exams.

    With `measures`, only the findings of those measures.
    """
    by_number = {exam.pk: exam for exam in exams}
    rows: dict[int, list[tuple[str, dict[str, Any]]]] = {pk: [] for pk in by_number}
    stored = Result.objects.filter(exam_id__in=by_number)
    if measures is not None:
        stored = stored.filter(measure__in=measures)
    # In the order stored, which is the order in which the core wants them read.
    for exam_id, criteria_hash, finding in stored.order_by("pk").values_list(
        "exam_id", "criteria_hash", "finding"
    ):
        rows[exam_id].append((criteria_hash, finding))
    return {pk: _interpretation(exam, rows[pk]) for pk, exam in by_number.items()}


def _interpretation(exam: Exam, rows: list[tuple[str, dict[str, Any]]]) -> Interpretation:
    return Interpretation(
        criteria_name=exam.criteria,
        criteria_version=exam.criteria_version,
        criteria_hash=rows[0][0] if rows else "",
        findings=tuple(Finding.from_json(finding) for _, finding in rows),
    )
