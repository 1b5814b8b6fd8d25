"""Who is due, and what was tried. Every function costs a fixed number of queries."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Prefetch, QuerySet

from access.people import Person
from access.permissions import NotHere, require
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
        """ "due at once", "due 3 Mar 2026 to 3 Jun 2026"; the template adds how late it is."""
        recall = self.recall
        if recall.due_from == recall.due_by:
            at_once = recall.kind != RecallKind.RISK and recall.due_by == recall.counted_from
            return "due at once" if at_once else f"due {_day(recall.due_by)}"
        return f"due {_day(recall.due_from)} to {_day(recall.due_by)}"

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
    """The clinic's recalls that stand, of people who live, the longest overdue first; six queries."""
    require(person, "see patient")
    today = today_for(person)
    standing = Recall.objects.filter(clinic=person.clinic, ended_at=None, patient__died_on=None)
    due = standing.filter(due_from__lte=today)
    shown = _with_attempts(due if only_due else standing).order_by("due_by", "pk")[:most]
    return RecallList(
        lines=_lines(shown, today),
        standing=standing.count(),
        due=due.count(),
        overdue=standing.filter(due_by__lt=today).count(),
        only_due=only_due,
    )


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
    newest = dict(
        Exam.objects.filter(
            patient_id__in={one.patient_id for one in recalls},
            state__in=DONE_STATES,
            measured_at__isnull=False,
        )
        .values("patient_id")
        .annotate(newest=Max("measured_at"))
        .values_list("patient_id", "newest")
    )
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
