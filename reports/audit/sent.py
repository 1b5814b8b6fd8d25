"""What a program asks and is answered of the measures, field by field."""

import re
from datetime import date
from typing import Any

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Line, Strict
from reports.audit.calendar import Span
from reports.audit.definitions import Kind
from reports.audit.queries.figures import OverviewRow

_KEY = re.compile(rf"({'|'.join(Span)})-(?!0000)(\d{{4}})-(0[1-9]|1[0-2])", re.ASCII)


class MeasuresAsked(Strict):
    period = Line(
        required=False,
        max_length=20,
        help_text="month, quarter or year with its first month: quarter-2026-04. This quarter if left out.",
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


class MeasureAnswer(serializers.Serializer):
    """One measure in a period. Null is hidden, by the rules of small numbers, or there was nothing."""

    measure = serializers.CharField()
    version = serializers.IntegerField()
    title = serializers.CharField()
    kind = serializers.ChoiceField([(one.value, one.value) for one in Kind])
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


def measure_said(row: OverviewRow) -> dict[str, Any]:
    """One row of the overview, as ``MeasureAnswer`` describes it."""
    now = row.now
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
