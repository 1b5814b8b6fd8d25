"""Whether anybody has worked with what a table brought. Found from the models: a new room counts too."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Model, Q, QuerySet

from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, ExamState, Preparation, Reading, Result
from reports.exchange.models import Batch, ImportedExam

# A person reads so many at most; the rest is counted.
MOST_NAMED = 50
_CAME_ALONG: tuple[type[Model], ...] = (Reading, Result, Preparation, ImportedExam)


@dataclass(frozen=True, slots=True)
class Touched:
    """One thing that was done: to whose exam, in words, and where to look."""

    words: str
    exam_id: int | None
    patient_id: int


def touched_of(batch: Batch) -> list[Touched]:
    """What was done to exams and people of a batch since it came; at most MOST_NAMED. A query a table."""
    found: list[Touched] = []
    for one in _all(batch):
        found.append(one)
        if len(found) >= MOST_NAMED:
            break
    return found


def _all(batch: Batch) -> Iterator[Touched]:
    exams = Exam.objects.filter(came_with__batch=batch).select_related("patient").order_by("pk")
    people = Patient.objects.filter(pk__in=batch.people.values("patient_number")).order_by("pk")
    for exam in exams.exclude(state=ExamState.MEASURED)[:MOST_NAMED]:
        yield _of_exam(exam, f"the exam is now {exam.get_state_display()}")
    later = Q(entered_at__gt=F("exam__came_with__batch__imported_at"))
    for model, words in (
        (Reading, "a reading was corrected or added"),
        (Preparation, "a condition was changed"),
    ):
        rows = model._default_manager.filter(later | Q(replaces__isnull=False), exam__came_with__batch=batch)
        numbers: Any = rows.values("exam")
        for exam in exams.filter(pk__in=numbers)[:MOST_NAMED]:
            yield _of_exam(exam, words)
    for model, column in _pointing_to(Exam):
        if model in _CAME_ALONG:
            continue
        rows = model._default_manager.filter(**{f"{column}__came_with__batch": batch})
        for exam in exams.filter(pk__in=rows.values(column))[:MOST_NAMED]:
            yield _of_exam(exam, f"has a {model._meta.verbose_name}")
    yield from _of_people(batch, people)


def _of_people(batch: Batch, people: "QuerySet[Patient]") -> Iterator[Touched]:
    for patient in people.filter(Q(revision__gt=1) | Q(merged_into__isnull=False))[:MOST_NAMED]:
        yield Touched(f"the record of {patient.full_name} was changed or merged", None, patient.pk)
    theirs = {
        Exam: Q(came_with__batch=batch),
        Identifier: Q(withdrawn_at=None),
    }
    for model, column in _pointing_to(Patient):
        rows = model._default_manager.filter(**{f"{column}__in": people.values("pk")})
        if model in theirs:
            rows = rows.exclude(theirs[model])
        for patient in people.filter(pk__in=rows.values(column))[:MOST_NAMED]:
            words = "another exam" if model is Exam else str(model._meta.verbose_name)
            yield Touched(f"{patient.full_name} has {words}", None, patient.pk)


def _of_exam(exam: Exam, words: str) -> Touched:
    day = exam.booked_for.date()
    return Touched(f"{exam.patient.full_name}, {day.day} {day:%b %Y}: {words}", exam.pk, exam.patient_id)


def _pointing_to(target: type[Model]) -> list[tuple[Any, str]]:
    found = [
        (relation.related_model, relation.field.name)
        for relation in target._meta.related_objects
        if not isinstance(relation.related_model, str)
    ]
    return sorted(found, key=lambda pair: (pair[0]._meta.label_lower, pair[1]))
