"""Which diagnostic criteria a clinic reads its exams by."""

from datetime import datetime
from typing import Any

from django.db.models import DateTimeField, IntegerField, QuerySet

from access.models import Clinic
from access.people import Person
from access.permissions import require
from access.prepared import Given, Prepared
from exams.hemodynamics import Criteria, criteria_names, load_criteria
from exams.visits.models import AdoptedCriteria, Exam
from exams.visits.plan import DONE_STATES

DEFAULT_CRITERIA = "acc-aha-2024"


def _adopted(**before: Any) -> QuerySet[AdoptedCriteria]:
    of_clinic = AdoptedCriteria.objects.filter(clinic_id=Given("clinic", IntegerField()), **before)
    return of_clinic.order_by("-adopted_at", "-pk")[:1]


_newest = Prepared(_adopted, "name", "version")
_newest_at = Prepared(lambda: _adopted(adopted_at__lte=Given("at", DateTimeField())), "name", "version")


def adopted_by(clinic: Clinic, at: datetime | None = None) -> Criteria:
    """The criteria in force in a clinic, now or `at` a time: newest adopted, else the default. One query."""
    newest = _newest.rows(clinic=clinic.pk) if at is None else _newest_at.rows(clinic=clinic.pk, at=at)
    for name, version in newest:
        return load_criteria(name, version)
    return load_criteria(DEFAULT_CRITERIA)


def in_force(person: Person) -> Criteria:
    """The criteria of the clinic the person acts in; the default where they act in none."""
    return adopted_by(person.clinic) if person.clinic else load_criteria(DEFAULT_CRITERIA)


def criteria_of(exam: Exam) -> Criteria:
    """The criteria an exam is read by: its own once it is measured, until then the clinic's."""
    if exam.state in DONE_STATES and exam.criteria:
        return load_criteria(exam.criteria, exam.criteria_version)
    return adopted_by(exam.clinic)


def offered() -> tuple[Criteria, ...]:
    """Every set of criteria that is shipped, the default first."""
    return tuple(load_criteria(name) for name in criteria_names())


def adoptions(person: Person) -> list[AdoptedCriteria]:
    """What the clinic adopted, when and by whom, the newest first."""
    require(person, "adopt criteria")
    return list(
        AdoptedCriteria.objects.filter(clinic=person.clinic)
        .select_related("adopted_by")
        .order_by("-adopted_at", "-pk")
    )
