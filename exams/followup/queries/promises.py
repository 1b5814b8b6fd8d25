"""What was promised, and what of it is broken. Every function costs a fixed number of queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import DateField, IntegerField, QuerySet

from access.models import User
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared, every_column, stored
from exams.followup.course import KEPT_BY_AN_EXAM, PromiseKind
from exams.followup.models import Promise
from exams.patients.models import Patient
from exams.patients.queries import today_for

MOST = 100


@dataclass(frozen=True)
class PromiseLine:
    promise: Promise
    today: date

    @property
    def id(self) -> int:
        return self.promise.pk

    @property
    def patient_name(self) -> str:
        patient = self.promise.patient
        return f"{patient.family_name}, {patient.given_name}"

    @property
    def stands(self) -> bool:
        return self.promise.kept_at is None and self.promise.called_off_at is None

    @property
    def broken_days(self) -> int:
        """How many days a promise that stands is past its day; 0 while it is in time."""
        return max(0, (self.today - self.promise.due_on).days) if self.stands else 0

    @property
    def kind_words(self) -> str:
        return str(PromiseKind(self.promise.kind).label)

    @property
    def how_kept(self) -> str:
        """What keeps it, in one line."""
        if self.promise.kind == PromiseKind.WARM:
            return "Kept by an exam in which every foot meant was measured for warmth and none was cold."
        if self.promise.kind in KEPT_BY_AN_EXAM:
            return "Kept by the next exam that is measured."
        return "Kept when somebody says so."


def promises_due(person: Person) -> tuple[PromiseLine, ...]:
    """Promises of the clinic due today or broken, of people who live, the longest broken first; one query."""
    require(person, "see today")
    if person.clinic is None:
        return ()
    today = today_for(person)
    rows = _due.rows(clinic=person.clinic.pk, today=today)
    return tuple(PromiseLine(_promise(row), today) for row in rows)


_PROMISE = every_column(Promise)
_due = Prepared(
    lambda: Promise.objects.filter(
        clinic_id=Given("clinic", IntegerField()),
        kept_at=None,
        called_off_at=None,
        patient__died_on=None,
        due_on__lte=Given("today", DateField()),
    ).order_by("due_on", "pk")[:MOST],
    *_PROMISE,
    "patient__family_name",
    "patient__given_name",
    "made_by__full_name",
)


def _promise(row: Sequence[Any]) -> Promise:
    *columns, family_name, given_name, made_by = row
    named = dict(zip(_PROMISE, columns, strict=True))
    patient = {"id": named["patient_id"], "family_name": family_name, "given_name": given_name}
    return stored(
        Promise,
        named,
        patient=stored(Patient, patient),
        made_by=stored(User, {"id": named["made_by_id"], "full_name": made_by}),
    )


def promises_of(person: Person, patient: Patient, *, standing: bool = False) -> tuple[PromiseLine, ...]:
    """Promises to a patient, what stands first by its day, then what is over; one query."""
    require(person, "see patient", patient)
    rows = _standing() if standing else Promise.objects.all()
    found = rows.filter(patient=patient).select_related(
        "patient", "made_by", "kept_by", "called_off_by", "kept_exam", "exam"
    )
    lines = [PromiseLine(one, today_for(person)) for one in found.order_by("due_on", "pk")]
    return tuple(sorted(lines, key=lambda one: not one.stands))


def promise_for(person: Person, promise_id: int) -> Promise:
    """The promise; NotHere for a number of another clinic or of nobody."""
    require(person, "see patient")
    found = (
        Promise.objects.filter(clinic=person.clinic, pk=promise_id)
        .select_related("clinic", "patient__clinic", "exam")
        .first()
    )
    if found is None:
        raise NotHere("no such promise in this clinic")
    return found


def _standing() -> QuerySet[Promise]:
    return Promise.objects.filter(kept_at=None, called_off_at=None).select_related("patient", "made_by")
