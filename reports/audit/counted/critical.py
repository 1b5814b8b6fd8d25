"""Critical results: told in time, read back, acted on, never missed (C01 to C04)."""

from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from exams.visits.models import ExamState, HandOver, Result
from reports.audit.counted.rows import Scope, of_exams, units, verdict

Rows = QuerySet[Any, Any]


def told_in_time(scope: Scope) -> Rows:
    open_yet = Q(told_at=None, due_at__gte=scope.now)
    return _of_slip(
        _slips(scope), verdict(met=Q(told_at__lte=F("due_at")), unknown=Q(due_at=None) | open_yet)
    )


def read_back(scope: Scope) -> Rows:
    return _of_slip(_slips(scope).filter(closed_at__isnull=False), verdict(met=~Q(read_back="")))


def without_action(scope: Scope) -> Rows:
    return _of_slip(_slips(scope).filter(closed_at__isnull=False), verdict(met=Q(agreed="")))


def without_slip(scope: Scope) -> Rows:
    """An urgent limb has the finding “urgency”; a slip, of whatever state, shows that somebody was asked."""
    slip = HandOver.objects.filter(exam=OuterRef("exam"), limb=OuterRef("limb"))
    rows = Result.objects.filter(of_exams(scope), measure="urgency").exclude(limb="").exclude(band="")
    return units(
        rows.annotate(slip=Exists(slip)),
        patient="exam__patient",
        anchor="exam__measured_at",
        about="exam",
        verdict=verdict(met=Q(slip=False)),
    )


def _slips(scope: Scope) -> Rows:
    return HandOver.objects.filter(
        exam__clinic=scope.clinic,
        raised_at__gte=scope.begin,
        raised_at__lt=scope.end,
        raised_in_error_because="",
        taken_over_by=None,
    ).exclude(exam__state=ExamState.IN_ERROR)


def _of_slip(rows: Rows, verdict: Any) -> Rows:
    return units(rows, patient="exam__patient", anchor="raised_at", about="exam", verdict=verdict)
