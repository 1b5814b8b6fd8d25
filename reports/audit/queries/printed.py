"""What a printed quarter says: frozen plain values, so that it can be printed again as it was."""

from datetime import datetime
from typing import Any

from django.conf import settings

from access import clock
from access.people import Person
from exams.patients.typed_date import written
from reports.audit.calendar import Period
from reports.audit.definitions import Measure, measures
from reports.audit.models import Count
from reports.audit.queries.figures import OverviewRow, overview
from reports.audit.queries.rules import chosen_measures


def quarter_content(by: Person, quarter: Period) -> tuple[Count | None, dict[str, Any]]:
    """The count a quarter rests on, None where there is none, and everything that is printed."""
    page = overview(by, quarter.key, everything=True)
    first = [one.id for one in chosen_measures(by.clinic)]
    rows = sorted(page.rows, key=lambda row: _order(row, first))
    if page.count is None or page.count.counted_at is None or by.clinic is None:
        return None, {}
    zone = by.clinic.zone
    content = {
        "clinic": by.clinic.name,
        "quarter": page.period.words,
        "made_at": _moment(clock.now().astimezone(zone)),
        "made_by": by.name,
        "counted_at": _moment(page.count.counted_at.astimezone(zone)),
        "count": page.count.pk,
        "software": f"vaslab {settings.VERSION}",
        "threshold": page.count.threshold,
        "base": page.count.base,
        "exact": page.exact,
        "invented": settings.DEMO,
        "rows": [_row(one) for one in rows],
        "definitions": [_definition(one.now.measure) for one in rows],
        "awaited": [
            {"id": one.id, "title": one.title, "awaits": one.awaits}
            for one in measures().values()
            if not one.is_counted
        ],
    }
    return page.count, content


def _order(row: OverviewRow, first: list[str]) -> tuple[bool, int]:
    name = row.now.measure.id
    listed = name in first
    return (not listed, first.index(name) if listed else list(measures()).index(name))


def _moment(at: datetime) -> str:
    return f"{written(at.date())}, {at:%H:%M}"


def _row(row: OverviewRow) -> dict[str, str]:
    now = row.now
    return {
        "id": now.measure.id,
        "version": str(now.measure.version),
        "title": now.measure.title,
        "met": now.met_words,
        "of": now.of_words,
        "unknown": now.unknown_words,
        "answer": now.answer,
        "interval": now.answer_interval,
        "before": row.before.answer if row.before else "",
        "change": row.change_words,
    }


def _definition(measure: Measure) -> dict[str, Any]:
    return {
        "name": measure.name,
        "title": measure.title,
        "why": measure.why,
        "numerator": measure.numerator,
        "denominator": measure.denominator,
        "unknown": measure.unknown,
        "exclusions": "; ".join(measure.exclusions) or "nothing",
        "anchor": measure.anchor,
    }
