"""Exams of a year with the names of the people, for the rare purpose that cannot do without them."""

from collections.abc import Callable, Iterator

from exams.patients.models import Identifier, Patient
from reports.audit.counted.rows import Scope
from reports.audit.export_files import Column, Row
from reports.audit.export_rows import MEASURED, exams_of, measured, results_of, some_people_of

COLUMNS = (
    Column("family_name", "text", "as recorded"),
    Column("given_name", "text", "as recorded"),
    Column("birth_date", "text", "as recorded"),
    Column("sex", "text", "as recorded"),
    Column("identifiers", "text", "issuer and number, a semicolon between"),
    Column("exam", "whole", "number of the exam in this record"),
    Column("day", "text", "day of the exam on the clinic's calendar"),
    Column("exam_type", "text", "what was planned"),
    Column("diabetes", "text", "yes, no or unknown"),
    *MEASURED,
)


def rows(scope: Scope, tell: Callable[[float], None]) -> Iterator[Row]:
    """The exams of everybody measured in the period, some people at a time; no free text of the record."""
    tell(0)
    for some in some_people_of(scope):
        people = Patient.objects.in_bulk(some)
        numbers: dict[int, list[str]] = {}
        for one in Identifier.objects.filter(patient__in=some, withdrawn_at=None).order_by("pk"):
            numbers.setdefault(one.patient_id, []).append(f"{one.issuer} {one.value}")
        by_person = exams_of(scope, some)
        results = results_of([exam for exams in by_person.values() for exam in exams])
        for patient, exams in by_person.items():
            person = people[patient]
            for exam in exams:
                day = exam.measured_at.astimezone(scope.clinic.zone).date()  # type: ignore[union-attr]
                yield (
                    person.family_name,
                    person.given_name,
                    person.birth_date.isoformat(),
                    person.sex,
                    "; ".join(numbers.get(patient, ())),
                    exam.pk,
                    day.isoformat(),
                    exam.exam_type,
                    person.diabetes,
                    *measured(results.get(exam.pk, {})),
                )
