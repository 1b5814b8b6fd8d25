"""How long things took (T02, T05 to T08, D04). Days are of the clinic's calendar."""

from typing import Any

from django.db.models import DateField, F, FilteredRelation, Max, Min, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.lookups import Exact, LessThanOrEqual

from access.roles import Role
from exams.followup.course import State, Urgency
from exams.followup.models import Referral, ReferralStep
from exams.patients.models import FactKind
from exams.visits.models import Exam, ExamState, Reading
from exams.wounds.codes import EpisodeEnd
from exams.wounds.models import Episode
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
    allowed = days_allowed("day", TO_INTERPRET, scope)
    in_time = LessThanOrEqual(Days(F("day"), day_of("reports__created_at", scope)), allowed)
    not_due = LessThanOrEqual(Days(F("day"), Value(scope.today, DateField())), allowed)
    # Of an exam with reports the best of them counts; one without has a single row here, and may be not due.
    of_a_report = verdict(met=Q(in_time), unknown=Q(reports=None) & Q(not_due))
    rows = (
        exams(scope)
        .annotate(reports=by_a_reporter)
        .annotate(day=day_of("measured_at", scope))
        .values("pk", "patient", "measured_at")
        .annotate(verdict=Max(of_a_report))
    )
    return units(rows, patient="patient", anchor="measured_at", verdict=F("verdict"))


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
    assessment = "wounds__assessments__"
    standing = Q(
        **{"wounds__withdrawn_at": None, f"{assessment}withdrawn_at": None, f"{assessment}replaced_by": None}
    )
    rows = (
        Episode.objects.filter(
            with_diabetes(),
            clinic=scope.clinic,
            presented_on__gte=scope.first,
            presented_on__lt=scope.after,
        )
        .exclude(ended_how=EpisodeEnd.IN_ERROR)
        .values("pk", "patient", "presented_on")
        .annotate(first_on=Min(f"{assessment}assessed_on", filter=standing))
    )
    return units(
        rows,
        patient="patient",
        anchor="presented_on",
        verdict=verdict(met=Q(first_on__isnull=False), unknown=Q(first_on=None)),
        value=Days(F("presented_on"), F("first_on")),
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
