"""The state of the records, who is overdue, and who took part in a study (O08, Q02, D01, D02)."""

from datetime import timedelta
from typing import Any

from django.db.models import DateField, Exists, F, OuterRef, Q, QuerySet, Value

from access.models import User
from exams.followup.course import RecallEnd
from exams.followup.models import Recall
from exams.identity.models import Merge
from exams.patients.models import Answer, Patient
from exams.visits.models import AgreementRepeat, Exam
from exams.visits.plan import DONE_STATES
from reports.audit.counted.rows import Scope, day_of, exams, units, verdict

Rows = QuerySet[Any, Any]

# For how long a study of agreement counts, and an exam makes a measurer an active one (workflow.md 5, Q02).
A_YEAR = timedelta(days=365)


def overdue(scope: Scope) -> Rows:
    rows = (
        Recall.objects.filter(
            clinic=scope.clinic, due_by__gte=scope.first, due_by__lt=min(scope.after, scope.today)
        )
        .exclude(ended_as=RecallEnd.NEVER_WAS)
        .exclude(patient__died_on__lte=F("due_by"))
        .annotate(ended_on=day_of("ended_at", scope))
    )
    late = Q(ended_on=None) | Q(ended_on__gt=F("due_by"))
    return units(rows, patient="patient", anchor="due_by", verdict=verdict(met=late))


def in_a_study(scope: Scope) -> Rows:
    """Of the day of counting; nothing in a period that does not hold it. One row a measurer."""
    since = scope.now - A_YEAR
    took_part = (
        Q(exam__measured_by=OuterRef("pk"))
        | Q(first__measured_by=OuterRef("pk"))
        | Q(recuffed_by=OuterRef("pk"))
    )
    pairs = AgreementRepeat.objects.filter(
        took_part, exam__clinic=scope.clinic, withdrawn_at=None, recorded_at__gte=since
    )
    measured = Exam.objects.filter(
        clinic=scope.clinic,
        state__in=DONE_STATES,
        imported_from="",
        measured_at__gte=since,
        measured_at__lt=scope.now,
    )
    active = User.objects.filter(pk__in=measured.order_by().values("measured_by")).annotate(
        counted_on=Value(scope.today, DateField()), studied=Exists(pairs)
    )
    return units(
        active.filter(counted_on__gte=scope.first, counted_on__lt=scope.after),
        patient="pk",
        anchor="counted_on",
        verdict=verdict(met=Q(studied=True)),
    )


def merged(scope: Scope) -> Rows:
    rows = Patient.objects.filter(
        clinic=scope.clinic, created_at__gte=scope.begin, created_at__lt=scope.end
    ).annotate(merged=Exists(Merge.objects.filter(merged=OuterRef("pk"), undone_at=None)))
    return units(rows, patient="pk", anchor="created_at", verdict=verdict(met=Q(merged=True)))


def diabetes_unknown(scope: Scope) -> Rows:
    return units(
        exams(scope),
        patient="patient",
        anchor="measured_at",
        verdict=verdict(met=Q(patient__diabetes=Answer.UNKNOWN)),
    )
