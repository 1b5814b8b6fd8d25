"""Recordings and the marks on them (P14 to P17)."""

from typing import Any

from django.db.models import (
    Case,
    F,
    FloatField,
    Func,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    TextField,
    Value,
    When,
)
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Abs, Cast

from exams.traces.models import Analysis, ReaderMark, Trace, Verdict
from exams.visits.models import ExamState
from reports.audit.counted.rows import Scope, units, verdict

Rows = QuerySet[Any, Any]

# The flags of the reader for flow that was never stopped (workflow.md 2.8).
LEAKING = ("occlusion_doubtful", "started_too_low")


def unreadable(scope: Scope) -> Rows:
    mark = ReaderMark.objects.filter(trace=OuterRef("pk"), blind=False, had_seen=False, replaced_by=None)
    rows = _traces(scope).annotate(mark=Subquery(mark.order_by("-pk").values("verdict")[:1]))
    bad = Q(mark__in=[Verdict.UNREADABLE, Verdict.REPEAT])
    return _of_trace(rows, verdict(met=bad, unknown=Q(mark=None)))


def leaking(scope: Scope) -> Rows:
    newest = Analysis.objects.filter(trace=OuterRef("pk")).order_by("-pk")
    # As text the list of flags is written alike by both databases, but for blanks.
    flags = newest.annotate(flags=Cast(KeyTextTransform("flags", "reading"), TextField())).values("flags")
    rows = _traces(scope).annotate(flags=Subquery(flags[:1]))
    leak = Q()
    for code in LEAKING:
        leak |= Q(flags__contains=f'"{code}"')
    return _of_trace(rows, verdict(met=leak, unknown=Q(flags=None)))


def moved(scope: Scope) -> Rows:
    rows = _marks(scope).annotate(
        beat=Cast(_number("beat_mmhg"), FloatField()),
        distance=Abs(F("pressure_mmhg") - F("analysis__pressure_mmhg")),
    )
    nothing = Q(analysis__pressure_mmhg=None) | Q(beat=None)
    far = Q(distance__gt=Cast(F("beat"), FloatField()))
    return _of_mark(rows, verdict(met=far, unknown=nothing))


def apart(scope: Scope) -> Rows:
    """The value is in half mmHg; a suggestion's tenth is rounded to the nearest half."""
    rows = _marks(scope).annotate(twice=2 * (F("pressure_mmhg") - F("analysis__pressure_mmhg")))
    rounded = Func(F("twice"), function="ROUND")
    nothing = Q(analysis__pressure_mmhg=None)
    return _of_mark(rows, verdict(met=~nothing, unknown=nothing), value=rounded)


def _traces(scope: Scope) -> "QuerySet[Trace]":
    return Trace.objects.filter(
        clinic=scope.clinic, withdrawn_at=None, received_at__gte=scope.begin, received_at__lt=scope.end
    ).exclude(exam__state=ExamState.IN_ERROR)


def _marks(scope: Scope) -> "QuerySet[ReaderMark]":
    return ReaderMark.objects.filter(
        trace__clinic=scope.clinic,
        trace__withdrawn_at=None,
        blind=False,
        had_seen=False,
        replaced_by=None,
        pressure_mmhg__isnull=False,
        marked_at__gte=scope.begin,
        marked_at__lt=scope.end,
    ).exclude(trace__exam__state=ExamState.IN_ERROR)


def _number(key: str) -> Any:
    """A number inside the reading; null where the reader said why there is none, which is an object there."""
    text = KeyTextTransform(key, "analysis__reading")
    return Case(
        When(Q(**{f"analysis__reading__{key}__not_stated__isnull": False}), then=Value(None)),
        default=text,
        output_field=TextField(),
    )


def _of_trace(rows: Rows, verdict: Any) -> Rows:
    return units(
        rows,
        patient="exam__patient",
        anchor="received_at",
        about="exam",
        verdict=verdict,
        person=F("received_by"),
    )


def _of_mark(rows: Rows, verdict: Any, value: Any = None) -> Rows:
    return units(
        rows,
        patient="trace__exam__patient",
        anchor="marked_at",
        about="trace__exam",
        verdict=verdict,
        value=value,
        person=F("marked_by"),
    )
