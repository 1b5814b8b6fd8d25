"""How long things took (T02, T05 to T08, D04). Days are of the clinic's calendar."""

from typing import Any

from django.db.models import DateField, F, FilteredRelation, Min, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.lookups import Exact

from access.roles import Role
from exams.followup.course import State, Urgency
from exams.followup.models import Referral, ReferralStep
from exams.patients.models import FactKind
from exams.visits.models import Exam, ExamState, Reading
from exams.wounds.codes import EpisodeEnd
from exams.wounds.models import Assessment, Episode
from reports.audit.counted.rows import (
    Days,
    Scope,
    day_of,
    days_allowed,
    exams,
    standing_facts,
    units,
    verdict,
    with_diabetes,
)

Rows = QuerySet[Any, Any]

# Working days for a report (workflow.md 5, T02) and for an exam kept on paper (D04).
TO_INTERPRET, TO_ENTER = 2, 1
LIMB_THREATENING = (Urgency.AT_ONCE, Urgency.ONE_WORKING_DAY)


def interpreted(scope: Scope) -> Rows:
    """By whom reads and reports exams: a measurer's own report is not read by anybody else yet."""
    by_a_reporter = FilteredRelation("documents", condition=Q(documents__created_as=Role.REPORTER))
    rows = (
        exams(scope)
        .annotate(reports=by_a_reporter)
        .values("pk", "patient", "measured_at")
        .annotate(day=day_of("measured_at", scope), reported_at=Min("reports__created_at"))
        .annotate(
            allowed=days_allowed("day", TO_INTERPRET, scope),
            took=Days(F("day"), day_of("reported_at", scope)),
            so_far=Days(F("day"), Value(scope.today, DateField())),
        )
    )
    not_due = Q(took=None, so_far__lte=F("allowed"))
    return units(
        rows,
        patient="patient",
        anchor="measured_at",
        verdict=verdict(met=Q(took__lte=F("allowed")), unknown=not_due),
    )


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


def to_revascularised(scope: Scope) -> Rows:
    """The value is in days; a treatment before the referral was sent is none of it."""
    treated = standing_facts(FactKind.REVASCULARISATION).filter(
        # A referral of the whole person names no side.
        Q(side=OuterRef("side")) | Q(Exact(OuterRef("side"), Value(""))),
        patient=OuterRef("patient"),
        started_precision="day",
        started_on__gte=OuterRef("day"),
    )
    rows = (
        Referral.objects.filter(
            clinic=scope.clinic,
            made_at__gte=scope.begin,
            made_at__lt=scope.end,
            urgency__in=LIMB_THREATENING,
        )
        .annotate(day=day_of("made_at", scope))
        .annotate(treated_on=Subquery(treated.order_by("started_on").values("started_on")[:1]))
    )
    return units(
        rows,
        patient="patient",
        anchor="made_at",
        verdict=verdict(met=Q(treated_on__isnull=False), unknown=Q(treated_on=None)),
        value=Days(F("day"), F("treated_on")),
    )


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


def entered_from_paper(scope: Scope) -> Rows:
    """By when the last reading stood in the record; a correction later is no entry."""
    last = (
        Reading.objects.filter(exam=OuterRef("pk"), replaces=None)
        .order_by("-entered_at")
        .values("entered_at")
    )
    rows = (
        exams(scope)
        .filter(entered_later=True)
        .annotate(day=day_of("measured_at", scope), entered_at=Subquery(last[:1]))
        .annotate(
            allowed=days_allowed("day", TO_ENTER, scope),
            took=Days(F("day"), day_of("entered_at", scope)),
        )
    )
    return units(
        rows,
        patient="patient",
        anchor="measured_at",
        verdict=verdict(met=Q(took__lte=F("allowed")), unknown=Q(took=None)),
    )


def _referrals(scope: Scope) -> Rows:
    accepted = (
        ReferralStep.objects.filter(
            referral=OuterRef("pk"), state=State.ACCEPTED, takes_back=None, taken_back_by=None
        )
        .order_by()
        .values("referral")
        .annotate(first=Min("at"))
        .values("first")
    )
    return Referral.objects.filter(
        clinic=scope.clinic, made_at__gte=scope.begin, made_at__lt=scope.end
    ).annotate(accepted_at=Subquery(accepted))
