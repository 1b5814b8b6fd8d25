"""The state of the records: what is missing or forgotten, how many, and the list to mend."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from access import clock
from access.people import Person
from access.permissions import NotHere, allowed, require
from exams.patients.models import Answer, FactKind, Patient, Side
from exams.patients.typed_date import written
from exams.visits.models import Exam, HandOver, Reading
from exams.visits.plan import DONE_STATES, TOE_SITES
from reports.audit.counted import critical, outcomes, process
from reports.audit.counted.rows import ANSWERS, Scope, standing_facts
from reports.audit.disclosure import SmallNumbers
from reports.audit.queries.figures import HIDDEN
from reports.audit.queries.rows import abouts_met
from reports.audit.queries.rules import rules_now, sees_exact

# What was measured longer ago is history; what is missing there is not mended any more.
LOOK_BACK = timedelta(days=365)
LISTED = 200
# The age after which the outlook no longer uses a toe pressure (clinical.md 4.2).
TOE_HOLDS = timedelta(days=90)


@dataclass(frozen=True)
class Check:
    """One thing to mend: how it is named, why it matters, where it is mended."""

    key: str
    title: str
    why: str
    what_to_do: str
    find: Callable[[Scope], "QuerySet[Any, Any]"]
    # A row of the list as words and address.
    line: Callable[[Any], tuple[str, str]]


@dataclass(frozen=True)
class Found:
    check: Check
    number: int | None

    @property
    def words(self) -> str:
        return HIDDEN if self.number is None else f"{self.number:,}"


@dataclass(frozen=True)
class Line:
    person: str
    words: str
    address: str


def quality_page(by: Person) -> list[Found]:
    """Every check with how many: exact for who can mend them, else by the rules of small numbers."""
    require(by, "see data quality")
    scope, exact = _scope(by), sees_exact(by)
    rules = rules_now()
    rule = SmallNumbers(rules.threshold, rules.base)
    found = []
    for check in CHECKS.values():
        number = check.find(scope).count()
        shown = number if exact else (None if rule.is_small(number) else rule.rounded(number))
        found.append(Found(check, shown))
    return found


def quality_list(by: Person, key: str) -> tuple[Check, Sequence[Line], int]:
    """The rows of one check, for whoever cares for these patients; how many there are in all.

    Raises
    ------
    NotHere
        If there is no such check.
    """
    require(by, "mend records")
    if key not in CHECKS:
        raise NotHere("no such check")
    check = CHECKS[key]
    rows = check.find(_scope(by))
    lines = []
    for row in rows[:LISTED]:
        words, address = check.line(row)
        patient = row if isinstance(row, Patient) else getattr(row, "patient", None) or row.exam.patient
        lines.append(Line(f"{patient.family_name}, {patient.given_name}", words, address))
    return check, lines, rows.count()


def may_mend(by: Person) -> bool:
    return allowed(by, "mend records")


def _scope(by: Person) -> Scope:
    if by.clinic is None:
        raise NotHere("no clinic")
    now = clock.now()
    today = now.astimezone(by.clinic.zone).date()
    return Scope(by.clinic, now - LOOK_BACK, now, today - LOOK_BACK, today + timedelta(days=1), now)


def _empty_sites(scope: Scope) -> "QuerySet[Exam]":
    missing = abouts_met(process.empty_sites(scope))
    return _with_patient(Exam.objects.filter(pk__in=missing)).order_by("-measured_at", "pk")


def _unknown_diabetes(scope: Scope) -> "QuerySet[Patient]":
    seen = Exam.objects.filter(patient=OuterRef("pk"), state__in=DONE_STATES, measured_at__gte=scope.begin)
    return Patient.objects.filter(
        Exists(seen), clinic=scope.clinic, diabetes=Answer.UNKNOWN, merged_into=None, died_on=None
    ).order_by("family_name", "given_name", "pk")


def _ulcers_without_toe(scope: Scope) -> "QuerySet[Any]":
    measured = Reading.objects.filter(
        exam__patient=OuterRef("patient"),
        exam__state__in=DONE_STATES,
        exam__measured_at__gte=scope.now - TOE_HOLDS,
        side=OuterRef("side"),
        site__in=TOE_SITES,
        outcome__in=ANSWERS,
        withdrawn=False,
        replaced_by=None,
    )
    return _open_wounds(scope).exclude(Exists(measured))


def _stale(scope: Scope) -> "QuerySet[Any]":
    return _open_wounds(scope).filter(pk__in=abouts_met(outcomes.stale(scope)))


def _without_slip(scope: Scope) -> "QuerySet[Exam]":
    missed = abouts_met(critical.without_slip(scope))
    return _with_patient(Exam.objects.filter(pk__in=missed)).order_by("-measured_at", "pk")


def _untold(scope: Scope) -> "QuerySet[HandOver]":
    return (
        HandOver.objects.filter(
            exam__clinic=scope.clinic,
            closed_at=None,
            told_at=None,
            raised_in_error_because="",
            taken_over_by=None,
            due_at__lt=scope.now,
        )
        .exclude(exam__state="in_error")
        .select_related("exam__patient")
        .order_by("due_at", "pk")
    )


def _open_wounds(scope: Scope) -> "QuerySet[Any]":
    """One row a limb: the newest open wound of each."""
    standing = (
        standing_facts(FactKind.OPEN_WOUND)
        .filter(
            Q(ended_on=None) | Q(ended_on__gt=scope.today),
            patient__clinic=scope.clinic,
            patient__merged_into=None,
            patient__died_on=None,
            started_on__lte=scope.today,
        )
        .order_by()
    )
    newest = standing.values("patient", "side").annotate(newest=Max("pk")).values("newest")
    return (
        standing.filter(pk__in=newest)
        .select_related("patient")
        .order_by("patient__family_name", "patient__given_name", "pk")
    )


def _with_patient(rows: "QuerySet[Exam]") -> "QuerySet[Exam]":
    return rows.select_related("patient")


def _of_exam(row: Exam) -> tuple[str, str]:
    return f"exam of {_day(row.measured_at or row.booked_for)}", reverse("visits:sheet", args=[row.pk])


def _day(at: datetime) -> str:
    """The day on the clinic's wall."""
    return written(timezone.localtime(at).date())


def _of_patient(row: Patient) -> tuple[str, str]:
    return "details of the person", reverse("patients:change", args=[row.pk])


def _of_wound(row: Any) -> tuple[str, str]:
    words = f"{Side(row.side).label}, open wound since {written(row.started_on)}"
    return words, reverse("timeline:patient", args=[row.patient_id])


def _of_slip(row: HandOver) -> tuple[str, str]:
    return (
        f"{Side(row.limb).label}, raised {_day(row.raised_at)}",
        reverse("visits:hand_over", args=[row.pk]),
    )


CHECKS: Mapping[str, Check] = {
    one.key: one
    for one in (
        Check(
            "empty-sites",
            "Planned sites with neither value nor reason",
            "A site left empty says nothing. Exams of the last 365 days.",
            "Open the exam and correct the site: the value, or why there is none.",
            _empty_sites,
            _of_exam,
        ),
        Check(
            "diabetes",
            "Diabetes not known",
            "Without it a normal ankle cannot be read. People measured in the last 365 days.",
            "Ask, and enter yes or no in the details of the person.",
            _unknown_diabetes,
            _of_patient,
        ),
        Check(
            "ulcers",
            "Open wounds without a toe pressure",
            "No answer at a toe of that foot in the last 90 days.",
            "Book an exam of the toes.",
            _ulcers_without_toe,
            _of_wound,
        ),
        Check(
            "stale",
            "Pressures older than the last procedure",
            "An open wound, and nothing measured since a vessel of that limb was treated.",
            "Book an exam: the old pressures no longer hold.",
            _stale,
            _of_wound,
        ),
        Check(
            "without-slip",
            "Critical values without a slip",
            "The criteria call the limb urgent, and nobody was asked to tell anyone. Last 365 days.",
            "Open the exam, and hand the result over now.",
            _without_slip,
            _of_exam,
        ),
        Check(
            "untold",
            "Critical results nobody was told of in time",
            "The time set by the criteria is over, and no person was reached.",
            "Open the slip, and tell somebody now.",
            _untold,
            _of_slip,
        ),
    )
}
