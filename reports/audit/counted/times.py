"""How long things took (T05, T07, T08). Days are of the clinic's calendar; `tally.py` makes working days."""

from typing import Any

from django.db.models import F, Min, OuterRef, Q, QuerySet, Subquery

from exams.followup.course import State
from exams.followup.models import Referral, ReferralStep
from exams.visits.models import Exam, ExamState
from exams.wounds.codes import EpisodeEnd
from exams.wounds.models import Assessment, Episode
from reports.audit.counted.rows import Days, Scope, units, verdict, with_diabetes

Rows = QuerySet[Any, Any]


def to_accepted(scope: Scope) -> Rows:
    """The value is counted in working days from the two moments (`working_pairs`)."""
    return units(
        _referrals(scope),
        patient="patient",
        anchor="made_at",
        verdict=verdict(met=Q(accepted_at__isnull=False), unknown=Q(accepted_at=None)),
    )


def accepted_moments(scope: Scope) -> Rows:
    """When each referral was sent and first accepted."""
    rows = _referrals(scope).filter(accepted_at__isnull=False).order_by()
    return rows.values_list("patient", "made_at", "accepted_at")


def to_assessed(scope: Scope) -> Rows:
    first = Assessment.objects.filter(
        wound__episode=OuterRef("pk"), wound__withdrawn_at=None, withdrawn_at=None, replaced_by=None
    )
    rows = (
        Episode.objects.filter(
            with_diabetes(),
            clinic=scope.clinic,
            presented_on__gte=scope.first,
            presented_on__lt=scope.after,
        )
        .exclude(ended_how=EpisodeEnd.IN_ERROR)
        .annotate(assessed_on=Subquery(first.order_by("assessed_on").values("assessed_on")[:1]))
    )
    return units(
        rows,
        patient="patient",
        anchor="presented_on",
        verdict=verdict(met=Q(assessed_on__isnull=False), unknown=Q(assessed_on=None)),
        value=Days(F("presented_on"), F("assessed_on")),
    )


def not_attended(scope: Scope) -> Rows:
    rows = Exam.objects.filter(
        clinic=scope.clinic,
        imported_from="",
        booked_for__gte=scope.begin,
        booked_for__lt=min(scope.end, scope.now),
    ).exclude(state=ExamState.IN_ERROR)
    return units(
        rows,
        patient="patient",
        anchor="booked_for",
        verdict=verdict(met=Q(state=ExamState.NOT_ATTENDED), unknown=Q(state=ExamState.BOOKED)),
    )


def _referrals(scope: Scope) -> Rows:
    accepted = (
        ReferralStep.objects.filter(referral=OuterRef("pk"), state=State.ACCEPTED)
        .order_by()
        .values("referral")
        .annotate(first=Min("at"))
        .values("first")
    )
    return Referral.objects.filter(
        clinic=scope.clinic, made_at__gte=scope.begin, made_at__lt=scope.end
    ).annotate(accepted_at=Subquery(accepted))
