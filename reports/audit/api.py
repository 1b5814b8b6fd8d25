"""The audit statistics for programs."""

from django.core.exceptions import ValidationError
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import errors
from reports.audit.queries.figures import overview
from reports.audit.sent import MeasuresAnswer, MeasuresAsked, first_day, measure_said


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
        if key and not page.period.first <= first_day(key) < page.period.end:
            raise ValidationError({"period": "That period is still to come, or too long ago to be counted."})
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
                "results": [measure_said(row) for row in page.rows],
            }
        )
