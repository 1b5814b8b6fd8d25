"""What a program asks and is answered of the measures, field by field."""

import re
from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Line, Strict
from reports.audit.calendar import Span
from reports.audit.definitions import Kind
from reports.audit.queries.figures import Shown
from reports.audit.queries.measure import MeasurePage

KINDS = [(one.value, one.value) for one in Kind]
_KEY = re.compile(rf"({'|'.join(Span)})-(?!0000)(\d{{4}})-(0[1-9]|1[0-2])", re.ASCII)


class MeasuresAsked(Strict):
    period = Line(
        required=False,
        max_length=20,
        help_text="month, quarter or year with its first month: quarter-2026-04. If left out, this quarter; "
        "where figures are not exact the one before, for of a period that still runs all is hidden.",
    )
    all = serializers.BooleanField(
        default=False, help_text="Every counted measure, not only those the clinic has chosen."
    )

    def validate_period(self, said: str) -> str:
        if not _KEY.fullmatch(said):
            raise serializers.ValidationError("Write it like quarter-2026-04.", code="not_a_period")
        return said


def first_day(key: str) -> date:
    """The first day of the month that the key of a period names."""
    _, year, month = key.split("-")
    return date(int(year), int(month), 1)


class MeasureAsked(Strict):
    period = Line(required=False, max_length=20, help_text="As in the list; likewise if left out.")

    validate_period = MeasuresAsked.validate_period


class MeasureAnswer(serializers.Serializer):
    """One measure in a period. Null is hidden, by the rules of small numbers, or there was nothing."""

    measure = serializers.CharField()
    version = serializers.IntegerField()
    title = serializers.CharField()
    kind = serializers.ChoiceField(KINDS)
    numerator = serializers.CharField(help_text="What is counted.")
    denominator = serializers.CharField(help_text="Of what.")
    met = serializers.IntegerField(allow_null=True)
    of = serializers.IntegerField(allow_null=True)
    unknown = serializers.IntegerField(allow_null=True)
    share = serializers.FloatField(allow_null=True, help_text="0 to 1.")
    low = serializers.FloatField(allow_null=True, help_text="95 % interval, quartile or limit.")
    high = serializers.FloatField(allow_null=True)
    middle = serializers.FloatField(allow_null=True, help_text="Median or mean difference.")
    unit = serializers.CharField(allow_blank=True, help_text="Of middle, low and high.")
    hidden = serializers.BooleanField(help_text="Some of it may not be shown here.")


@extend_schema_serializer(component_name="Measures")
class MeasuresAnswer(serializers.Serializer):
    """The measures of a clinic in a period, as far as they are counted."""

    period = serializers.CharField(help_text="The key of the period answered.")
    first_day = serializers.DateField()
    day_after = serializers.DateField()
    counted_at = serializers.DateTimeField(allow_null=True, help_text="Null: not counted yet.")
    exact = serializers.BooleanField(help_text="Otherwise rounded, with small numbers hidden.")
    results = MeasureAnswer(many=True)


@extend_schema_serializer(component_name="MeasurePoint")
class PointAnswer(serializers.Serializer):
    """One point of the run chart."""

    period = serializers.CharField()
    met = serializers.IntegerField(allow_null=True)
    of = serializers.IntegerField(allow_null=True)
    middle = serializers.FloatField(allow_null=True, help_text="Median or mean difference.")
    outside = serializers.BooleanField(help_text="Outside the limits of the run chart.")


@extend_schema_serializer(component_name="MeasureWhole")
class OneMeasureAnswer(serializers.Serializer):
    """What one measure counts, its figure in a period, and how it ran over two audit years."""

    measure = serializers.CharField()
    version = serializers.IntegerField()
    title = serializers.CharField()
    why = serializers.CharField()
    kind = serializers.ChoiceField(KINDS)
    better = serializers.CharField(help_text="Which way is better.")
    numerator = serializers.CharField()
    denominator = serializers.CharField()
    unknown = serializers.CharField(help_text="When it counts as unknown.")
    exclusions = serializers.ListField(child=serializers.CharField())
    awaits = serializers.CharField(allow_blank=True, help_text="What is not recorded yet; else empty.")
    period = serializers.CharField()
    counted_at = serializers.DateTimeField(allow_null=True, help_text="Null: not counted yet.")
    exact = serializers.BooleanField(help_text="Otherwise rounded, with small numbers hidden.")
    now = MeasureAnswer(allow_null=True, help_text="Null: there was nothing to count.")
    run = PointAnswer(many=True)


def one_measure_said(page: MeasurePage) -> dict[str, Any]:
    """The page of one measure, as ``OneMeasureAnswer`` describes it."""
    one = page.measure
    return {
        "measure": one.id,
        "version": one.version,
        "title": one.title,
        "why": one.why,
        "kind": one.kind.value,
        "better": one.better,
        "numerator": one.numerator,
        "denominator": one.denominator,
        "unknown": one.unknown,
        "exclusions": list(one.exclusions),
        "awaits": one.awaits,
        "period": page.period.key,
        "counted_at": page.count.counted_at.isoformat() if page.count and page.count.counted_at else None,
        "exact": page.exact,
        "now": measure_said(page.now) if page.now else None,
        "run": [
            {
                "period": month.figure.period.key,
                "met": month.figure.met,
                "of": month.figure.of,
                "middle": month.figure.values[1] if month.figure.values else None,
                "outside": month.outside,
            }
            for month in page.chart.months
        ],
    }


def measure_said(now: Shown) -> dict[str, Any]:
    """One figure, as ``MeasureAnswer`` describes it."""
    low, middle, high = now.values or (None, None, None)
    if now.share is not None:
        low, high = now.share.low, now.share.high
    return {
        "measure": now.measure.id,
        "version": now.measure.version,
        "title": now.measure.title,
        "kind": now.measure.kind.value,
        "numerator": now.measure.numerator,
        "denominator": now.measure.denominator,
        "met": now.met,
        "of": now.of,
        "unknown": now.unknown,
        "share": now.share.share if now.share else None,
        "low": low,
        "middle": middle,
        "high": high,
        "unit": now.measure.value,
        "hidden": None in (now.met, now.of, now.unknown),
    }
