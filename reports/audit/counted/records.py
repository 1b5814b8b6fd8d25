"""The state of the records, and who is overdue (O08, D01, D02)."""

from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from exams.followup.course import RecallEnd
from exams.followup.models import Recall
from exams.identity.models import Merge
from exams.patients.models import Answer, Patient
from reports.audit.counted.rows import Scope, day_of, exams, units, verdict

Rows = QuerySet[Any, Any]


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
