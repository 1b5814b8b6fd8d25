"""What became of ulcers, limbs and people (P13, O01 to O07, O09)."""

from datetime import date, timedelta
from typing import Any

from django.db.models import (
    DateField,
    Exists,
    ExpressionWrapper,
    F,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)

from exams.hemodynamics import AmputationLevel
from exams.patients.models import FactKind
from exams.visits.models import Reading, Result
from exams.visits.plan import ANKLE_SITES, DONE_STATES, TOE_SITES
from exams.wounds.codes import EpisodeEnd
from exams.wounds.models import Assessment
from reports.audit.counted.process import open_wound
from reports.audit.counted.rows import (
    ANSWERS,
    Scope,
    day_of,
    of_exams,
    replaced,
    standing_facts,
    standing_readings,
    units,
    verdict,
    with_diabetes,
)

Rows = QuerySet[Any, Any]

HALF_A_YEAR = timedelta(days=183)
EARLY = timedelta(days=14)
BASELINE = timedelta(days=30)
EIGHT_WEEKS = timedelta(days=56)
# A toe pressure below it is of the worst WIfI grade (workflow.md 5, O06).
LOW_TOE_MMHG = 30
MAJOR = [level.value for level in AmputationLevel if level.is_major]


def toe_of_new_ulcer(scope: Scope) -> Rows:
    measured = (
        standing_readings()
        .filter(
            exam__patient=OuterRef("wound__episode__patient"),
            exam__state__in=DONE_STATES,
            side=OuterRef("wound__episode__index_side"),
            site__in=TOE_SITES,
            outcome__in=ANSWERS,
        )
        .annotate(day=day_of("exam__measured_at", scope))
        .filter(day__gte=OuterRef("from_day"), day__lte=OuterRef("to_day"))
    )
    rows = _first_assessments(scope).annotate(from_day=_later(-EARLY), to_day=_later(EARLY))
    return _of_episode(rows, verdict(met=Q(Exists(measured)), not_over=Q(to_day__gte=scope.today)))


def healed_at_12(scope: Scope) -> Rows:
    rows = _first_assessments(scope)
    return _of_episode(
        rows, verdict(met=Q(wound__episode__healed_12w=True), unknown=Q(wound__episode__healed_12w=None))
    )


def healed_at_24(scope: Scope) -> Rows:
    rows = _first_assessments(scope).filter(wound__episode__healed_12w=False)
    return _of_episode(
        rows, verdict(met=Q(wound__episode__healed_24w=True), unknown=Q(wound__episode__healed_24w=None))
    )


def major_amputation(scope: Scope) -> Rows:
    return _amputated(scope, Q(level__in=MAJOR))


def minor_amputation(scope: Scope) -> Rows:
    return _amputated(scope, ~Q(level__in=MAJOR))


def death(scope: Scope) -> Rows:
    rows = _first_assessments(scope).annotate(to_day=_later(HALF_A_YEAR))
    died = Q(wound__episode__patient__died_on__lte=F("to_day"))
    return _of_episode(rows, verdict(met=died, not_over=Q(to_day__gte=scope.today)))


def revascularised(scope: Scope) -> Rows:
    low = Result.objects.filter(measure="toe_pressure", value__lt=LOW_TOE_MMHG, exam__state__in=DONE_STATES)
    before = low.filter(
        exam__patient=OuterRef("exam__patient"),
        limb=OuterRef("limb"),
        exam__measured_at__lt=OuterRef("exam__measured_at"),
    )
    rows = (
        low.filter(of_exams(scope))
        .exclude(Exists(before))
        .annotate(day=day_of("exam__measured_at", scope))
        .filter(open_wound("exam__patient", "limb", "day"))
        .annotate(to_day=_days_after(F("day"), EIGHT_WEEKS))
    )
    treated = standing_facts(FactKind.REVASCULARISATION).filter(
        patient=OuterRef("exam__patient"),
        side=OuterRef("limb"),
        started_on__gte=OuterRef("day"),
        started_on__lte=OuterRef("to_day"),
    )
    return units(
        rows,
        patient="exam__patient",
        anchor="exam__measured_at",
        about="exam",
        verdict=verdict(met=Q(Exists(treated)), not_over=Q(to_day__gte=scope.today)),
    )


def new_baseline(scope: Scope) -> Rows:
    rows = (
        standing_facts(FactKind.REVASCULARISATION)
        .filter(patient__clinic=scope.clinic, started_on__gte=scope.first, started_on__lt=scope.after)
        .annotate(to_day=_days_after(F("started_on"), BASELINE))
        .exclude(patient__died_on__lte=F("to_day"))
    )
    measured = (
        _limb_readings("patient", OuterRef("side"))
        .annotate(day=day_of("exam__measured_at", scope))
        .filter(day__gt=OuterRef("started_on"), day__lte=OuterRef("to_day"))
    )
    of_a_day = Q(started_precision="day")
    return units(
        rows,
        patient="patient",
        anchor="started_on",
        verdict=verdict(met=Q(Exists(measured)), unknown=~of_a_day, not_over=Q(to_day__gte=scope.today)),
    )


def stale(scope: Scope) -> Rows:
    """Of the day of counting; nothing in a period that does not hold it. One row a limb."""
    treated = standing_facts(FactKind.REVASCULARISATION).filter(
        patient=OuterRef("patient"), side=OuterRef("side")
    )
    measured_since = (
        _limb_readings("patient", OuterRef("side"))
        .annotate(day=day_of("exam__measured_at", scope))
        .filter(day__gt=OuterRef("treated_on"))
    )
    rows = (
        standing_facts(FactKind.OPEN_WOUND)
        .filter(Exists(treated))
        .filter(patient__clinic=scope.clinic, patient__died_on=None, started_on__lte=scope.today)
        .filter(Q(ended_on=None) | Q(ended_on__gt=scope.today))
        .values("patient", "side")
        .annotate(wound=Max("pk"))
        .annotate(
            treated_on=Subquery(treated.order_by("-started_on").values("started_on")[:1]),
            counted_on=_day(scope.today),
        )
    )
    return units(
        rows.filter(counted_on__gte=scope.first, counted_on__lt=scope.after),
        patient="patient",
        anchor="counted_on",
        about="wound",
        verdict=verdict(met=~Q(Exists(measured_since))),
    )


def _first_assessments(scope: Scope) -> Rows:
    """First assessments, in the period, of the ulcer episodes of people with diabetes.

    The day is a column of theirs: worked out for each episode, it would be so wherever it is named.
    """
    standing = Assessment.objects.filter(withdrawn_at=None, wound__withdrawn_at=None).exclude(
        replaced(Assessment)
    )
    day = OuterRef("assessed_on")
    earlier = standing.filter(
        Q(assessed_on__lt=day) | Q(assessed_on=day, pk__lt=OuterRef("pk")),
        wound__episode=OuterRef("wound__episode"),
    )
    return (
        standing.filter(
            with_diabetes("wound__episode__patient__"),
            wound__episode__clinic=scope.clinic,
            assessed_on__gte=scope.first,
            assessed_on__lt=scope.after,
        )
        .exclude(wound__episode__ended_how=EpisodeEnd.IN_ERROR)
        .exclude(Exists(earlier))
    )


def _amputated(scope: Scope, level: Q) -> Rows:
    lost = standing_facts(FactKind.AMPUTATION).filter(
        level,
        patient=OuterRef("wound__episode__patient"),
        side=OuterRef("wound__episode__index_side"),
        started_on__gte=OuterRef("assessed_on"),
        started_on__lte=OuterRef("to_day"),
    )
    rows = _first_assessments(scope).exclude(wound__episode__toe_band="").annotate(to_day=_later(HALF_A_YEAR))
    return _of_episode(rows, verdict(met=Q(Exists(lost)), not_over=Q(to_day__gte=scope.today)))


def _of_episode(rows: Rows, verdict: Any) -> Rows:
    return units(
        rows,
        patient="wound__episode__patient",
        anchor="assessed_on",
        about="wound__episode",
        verdict=verdict,
    )


def _limb_readings(patient: str, side: Any) -> "QuerySet[Reading]":
    return standing_readings().filter(
        exam__patient=OuterRef(patient),
        exam__state__in=DONE_STATES,
        side=side,
        site__in=[*ANKLE_SITES, *TOE_SITES],
        outcome__in=ANSWERS,
    )


def _later(apart: timedelta) -> ExpressionWrapper:
    return _days_after(F("assessed_on"), apart)


def _days_after(day: Any, apart: timedelta) -> Any:
    return ExpressionWrapper(day + Value(apart), output_field=DateField())


def _day(day: date) -> Value:
    return Value(day, DateField())
