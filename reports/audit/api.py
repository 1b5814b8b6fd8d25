"""The audit statistics for programs."""

from typing import Any

from django.core.exceptions import ValidationError
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import errors, looks
from reports.audit.queries.figures import measure_named, overview
from reports.audit.queries.measure import measure_page
from reports.audit.sent import (
    MeasureAsked,
    MeasuresAnswer,
    MeasuresAsked,
    OneMeasureAnswer,
    first_day,
    measure_said,
    one_measure_said,
)


class Measures(Api):
    @extend_schema(
        operation_id="list_measures",
        tags=["measures"],
        summary="The measures of the clinic in a period",
        description="Exact for a token with exams.read whose person cares for the clinic's patients; "
        "rounded, with small numbers hidden, for any other.",
        parameters=[MeasuresAsked],
        responses={
            200: OpenApiResponse(MeasuresAnswer, description="As newly as they were counted."),
            **errors(s422="The period cannot be answered."),
        },
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(MeasuresAsked)
        key = asked.get("period", "")
        page = overview(self.person, key, asked["all"])
        _refuse_other_period(key, page.period)
        self.note("audit figures read by a program", asked={"period": page.period.key})
        return self.answer(
            {
                "period": page.period.key,
                "first_day": page.period.first.isoformat(),
                "day_after": page.period.end.isoformat(),
                "counted_at": page.count.counted_at.isoformat()
                if page.count and page.count.counted_at
                else None,
                "exact": page.exact,
                "results": [measure_said(row.now) for row in page.rows],
            }
        )


class Measure(Api):
    @looks(
        "read_measure",
        "measures",
        "Read one measure: what it counts, its figure, and how it ran",
        OneMeasureAnswer,
        "By its code, such as P01. Exact or rounded as in the list.",
        parameters=[MeasureAsked],
        s404="No such measure.",
        s422="The period cannot be answered.",
    )
    def get(self, request: Request, measure: str) -> Response:
        one = measure_named(measure)
        key = self.asked(MeasureAsked).get("period", "")
        page = measure_page(self.person, one, key)
        _refuse_other_period(key, page.period)
        self.note("audit figures read by a program", asked={"measure": one.id, "period": page.period.key})
        return self.answer(one_measure_said(page))


def _refuse_other_period(asked: str, answered: Any) -> None:
    """What cannot be counted is answered by a page with another period; a program is told."""
    if asked and not answered.first <= first_day(asked) < answered.end:
        raise ValidationError({"period": "That period is still to come, or too long ago to be counted."})
