"""Who is due, and what was tried. Every function costs a fixed number of queries."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any

from django.db.models import Count, DateField, IntegerField, Max, Prefetch, Q, QuerySet

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared, every_column, stored
from exams.followup.course import RecallEnd, RecallKind
from exams.followup.models import ContactAttempt, Recall
from exams.followup.risk import category_words
from exams.patients.models import Patient
from exams.patients.queries import today_for, with_identifiers
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES

MOST = 200
_FOUND = (RecallKind.OPEN_WOUND, RecallKind.FOOT_INFECTION)
ON_TODAY = 10


@dataclass(frozen=True)
class RecallLine:
    """One recall as a line of a list. ``measured_on``: the newest exam since it was counted from, if any."""

    recall: Recall
    today: date
    attempts: tuple[ContactAttempt, ...]
    measured_on: date | None

    @property
    def id(self) -> int:
        return self.recall.pk

    @property
    def patient_name(self) -> str:
        patient = self.recall.patient
        return f"{patient.family_name}, {patient.given_name}"

    @property
    def why(self) -> str:
        """ "foot-risk category 2, moderate: every 3 to 6 months"."""
        kind = str(RecallKind(self.recall.kind).label)
        return kind if self.recall.category is None else f"{kind} {category_words(self.recall.category)}"

    @property
    def by_category(self) -> bool:
        return self.recall.kind == RecallKind.RISK

    @property
    def is_due(self) -> bool:
        return self.recall.ended_at is None and self.recall.due_from <= self.today

    @property
    def overdue_days(self) -> int:
        return max(0, (self.today - self.recall.due_by).days) if self.recall.ended_at is None else 0

    @property
    def due_words(self) -> str:
        """ "at once", "3 Mar 2026 to 3 Jun 2026"; the template adds how late it is."""
        recall = self.recall
        if recall.due_from == recall.due_by:
            at_once = recall.kind != RecallKind.RISK and recall.due_by == recall.counted_from
            return "at once" if at_once else _day(recall.due_by)
        return f"{_day(recall.due_from)} to {_day(recall.due_by)}"

    @property
    def next_step(self) -> str:
        if self.measured_on:
            return f"Measured {_day(self.measured_on)}: say that the person was seen, and set the next date."
        if self.attempts:
            return f"Last try {_day(self.attempts[-1].tried_on)}: try again, or end it with a reason."
        return "Nobody has tried to reach the person yet."

    @property
    def ended_words(self) -> str:
        return str(RecallEnd(self.recall.ended_as).label) if self.recall.ended_as else ""


@dataclass(frozen=True)
class RecallList:
    """``due`` counts those due or overdue, ``overdue`` those past their last day; ``lines`` may be fewer."""

    lines: tuple[RecallLine, ...]
    standing: int
    due: int
    overdue: int
    only_due: bool

    @property
    def more(self) -> int:
        return (self.due if self.only_due else self.standing) - len(self.lines)


def recall_list(person: Person, *, only_due: bool = True, most: int = MOST) -> RecallList:
    """The clinic's recalls that stand, of people who live, the longest overdue first.

    Four queries; one where there is nothing to show.
    """
    require(person, "see patient")
    if person.clinic is None:
        return RecallList((), 0, 0, 0, only_due)
    clinic, today = person.clinic, today_for(person)
    counted = _counted.rows(clinic=clinic.pk, today=today)
    standing, due, overdue = counted[0] if counted else (0, 0, 0)
    lines = _listed(clinic, today, only_due, most) if (due if only_due else standing) else ()
    return RecallList(lines, standing, due, overdue, only_due)


_CLINIC, _TODAY = Given("clinic", IntegerField()), Given("today", DateField())
_RECALL = every_column(Recall)


def _standing() -> QuerySet[Recall]:
    return Recall.objects.filter(clinic_id=_CLINIC, ended_at=None, patient__died_on=None)


_counted = Prepared(
    lambda: (
        _standing()
        .values("clinic_id")
        .annotate(
            standing=Count("pk"),
            due=Count("pk", filter=Q(due_from__lte=_TODAY)),
            overdue=Count("pk", filter=Q(due_by__lt=_TODAY)),
        )
    ),
    "standing",
    "due",
    "overdue",
)


def _shown(only_due: bool, most: int) -> QuerySet[Recall]:
    rows = _standing().filter(due_from__lte=_TODAY) if only_due else _standing()
    return rows.order_by("due_by", "pk")[:most]


@cache
def _of_list(only_due: bool, most: int) -> tuple[Prepared, Prepared, Prepared]:
    """The recalls of a list, the tries of each, and when each person was measured last."""
    return (
        Prepared(lambda: _shown(only_due, most), *_RECALL, "patient__family_name", "patient__given_name"),
        Prepared(
            lambda: ContactAttempt.objects.filter(recall__in=_shown(only_due, most).values("pk")).order_by(
                "tried_on", "pk"
            ),
            "id",
            "recall_id",
            "tried_on",
        ),
        Prepared(
            lambda: _measured().filter(patient__in=_shown(only_due, most).values("patient")),
            "patient_id",
            "newest",
        ),
    )


def _listed(clinic: Clinic, today: date, only_due: bool, most: int) -> tuple[RecallLine, ...]:
    of_recalls, of_tries, of_exams = _of_list(only_due, most)
    given = {"clinic": clinic.pk, "today": today}
    recalls = []
    for *columns, family_name, given_name in of_recalls.rows(**given):
        named = dict(zip(_RECALL, columns, strict=True))
        patient = {"id": named["patient_id"], "family_name": family_name, "given_name": given_name}
        recalls.append(stored(Recall, named, clinic=clinic, patient=stored(Patient, patient)))
    tries: dict[int, tuple[ContactAttempt, ...]] = {}
    for row in of_tries.rows(**given):
        one = stored(ContactAttempt, zip(of_tries.columns, row, strict=True))
        tries[one.recall_id] = (*tries.get(one.recall_id, ()), one)
    measured = _counted_since(recalls, dict(of_exams.rows(**given)))
    return tuple(RecallLine(one, today, tries.get(one.pk, ()), measured.get(one.pk)) for one in recalls)


def recalls_of(person: Person, patient: Patient) -> tuple[RecallLine, ...]:
    """Every recall of a patient, what stands first; three queries."""
    require(person, "see patient", patient)
    rows = _with_attempts(Recall.objects.filter(patient=patient)).order_by("-pk")
    found = _lines(rows, today_for(person))
    return tuple(sorted(found, key=lambda one: (one.recall.ended_at is not None, one.recall.due_by)))


def recall_for(person: Person, recall_id: int) -> Recall:
    """The recall; NotHere for a number of another clinic or of nobody."""
    require(person, "see patient")
    patients = Prefetch("patient", queryset=with_identifiers(Patient.objects.select_related("clinic")))
    found = (
        Recall.objects.filter(clinic=person.clinic, pk=recall_id)
        .select_related("clinic", "made_by", "ended_by", "fact")
        .prefetch_related(patients)
        .first()
    )
    if found is None:
        raise NotHere("no such recall in this clinic")
    return found


def recall_page(person: Person, recall_id: int) -> RecallLine:
    """One recall with every try."""
    recall = recall_for(person, recall_id)
    tries = tuple(recall.attempts.select_related("entered_by").order_by("tried_on", "pk"))
    measured = _measured_on([recall])
    return RecallLine(recall, today_for(person), tries, measured.get(recall.pk))


def _with_attempts(rows: QuerySet[Recall]) -> QuerySet[Recall]:
    tries = Prefetch("attempts", queryset=ContactAttempt.objects.order_by("tried_on", "pk"))
    return rows.select_related("clinic", "patient", "made_by", "ended_by").prefetch_related(tries)


def _lines(rows: Iterable[Recall], today: date) -> tuple[RecallLine, ...]:
    found = list(rows)
    measured = _measured_on(found)
    return tuple(RecallLine(one, today, tuple(one.attempts.all()), measured.get(one.pk)) for one in found)


def _measured_on(recalls: list[Recall]) -> dict[int, date]:
    """Recall to the day of the newest exam after the day it is counted from; one query."""
    exams = _measured().filter(patient_id__in={one.patient_id for one in recalls})
    return _counted_since(recalls, {row["patient_id"]: row["newest"] for row in exams})


def _measured() -> QuerySet[Exam, Any]:
    done = Exam.objects.filter(state__in=DONE_STATES, measured_at__isnull=False)
    return done.values("patient_id").annotate(newest=Max("measured_at"))


def _counted_since(recalls: Iterable[Recall], newest: Mapping[int, datetime]) -> dict[int, date]:
    found = {}
    for one in recalls:
        if one.patient_id in newest:
            on = newest[one.patient_id].astimezone(one.clinic.zone).date()
            # On the very day, pressures are those of the ulcer or infection found; not of a procedure.
            if on > one.counted_from or (on == one.counted_from and one.kind in _FOUND):
                found[one.pk] = on
    return found


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
