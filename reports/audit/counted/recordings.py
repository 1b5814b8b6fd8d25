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
from django.db.models.functions import Abs, Cast, Coalesce

from exams.traces.models import Analysis, ReaderMark, Trace, Verdict
from exams.visits.models import ExamState
from reports.audit.counted.rows import UNKNOWN, Scope, units, verdict

Rows = QuerySet[Any, Any]

# The flags of the reader for flow that was never stopped (workflow.md 2.8).
LEAKING = ("occlusion_doubtful", "started_too_low")


def unreadable(scope: Scope) -> Rows:
    bad = verdict(met=Q(verdict__in=[Verdict.UNREADABLE, Verdict.REPEAT]))
    marks = ReaderMark.objects.filter(trace=OuterRef("pk"), blind=False, had_seen=False, replaced_by=None)
    return _of_trace(scope, marks.annotate(found=bad))


def leaking(scope: Scope) -> Rows:
    # As text the list of flags is written alike by both databases, but for blanks.
    readings = Analysis.objects.filter(trace=OuterRef("pk")).annotate(
        flags=Cast(KeyTextTransform("flags", "reading"), TextField())
    )
    leak = Q()
    for code in LEAKING:
        leak |= Q(flags__contains=f'"{code}"')
    return _of_trace(scope, readings.annotate(found=verdict(met=leak, unknown=Q(flags=None))))


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


def _of_trace(scope: Scope, found: Rows) -> Rows:
    """A recording with what the newest of these rows says of it; not known where there is none."""
    traces = Trace.objects.filter(
        clinic=scope.clinic, withdrawn_at=None, received_at__gte=scope.begin, received_at__lt=scope.end
    ).exclude(exam__state=ExamState.IN_ERROR)
    return units(
        traces,
        patient="exam__patient",
        anchor="received_at",
        about="exam",
        verdict=Coalesce(Subquery(found.order_by("-pk").values("found")[:1]), Value(UNKNOWN)),
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
