"""Stored findings, given back as the core's own objects."""

from collections.abc import Collection, Iterable

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
    rows: dict[int, list[Result]] = {pk: [] for pk in by_number}
    stored = Result.objects.filter(exam_id__in=by_number)
    if measures is not None:
        stored = stored.filter(measure__in=measures)
    # In the order stored, which is the order in which the core wants them read.
    for row in stored.order_by("pk"):
        rows[row.exam_id].append(row)
    return {pk: _interpretation(exam, rows[pk]) for pk, exam in by_number.items()}


def _interpretation(exam: Exam, rows: list[Result]) -> Interpretation:
    return Interpretation(
        criteria_name=exam.criteria,
        criteria_version=exam.criteria_version,
        criteria_hash=rows[0].criteria_hash if rows else "",
        findings=tuple(Finding.from_json(row.finding) for row in rows),
    )
