"""What the pages show of figures beside the numbers: points for the charts, and the room's own pages."""

from collections.abc import Sequence
from typing import Any

from django.urls import reverse

from access.people import Person
from access.permissions import allowed
from reports.audit.queries.figures import Shown
from reports.audit.queries.measure import MeasurePage

PAGES = (
    ("Figures", "audit:overview", "see audit"),
    ("Measures in words", "audit:definitions", "see audit"),
    ("Data quality", "audit:quality", "see data quality"),
    ("Quarters in print", "audit:reports", "see audit"),
    ("Exports", "audit:exports", "see audit"),
    ("What if", "audit:what_if", "try criteria"),
    ("Choose measures", "audit:choose", "choose measures"),
)


def rooms(by: Person, here: Any) -> list[dict[str, Any]]:
    """The pages of the room that this person may open."""
    name = here.view_name if here else ""
    return [
        {"label": label, "url": reverse(view), "current": view == name}
        for label, view, ability in PAGES
        if allowed(by, ability)
    ]


def drawn(page: MeasurePage) -> dict[str, Any]:
    """The charts as plain numbers for the script; every one of them stands in a table of the page too."""
    chart, funnel = page.chart, page.funnel
    return {
        "unit": page.measure.value or "%",
        "across": page.chart.span,
        "centre": chart.centre,
        "months": [
            {
                "at": month.figure.period.first.isoformat(),
                "words": month.figure.period.words,
                "value": month.figure.part,
                "low": month.low,
                "high": month.high,
                "outside": month.outside,
                "said": f"{month.figure.period.words}: {month.figure.answer}",
            }
            for month in chart.months
        ],
        "funnel": None
        if funnel is None or not funnel.curves
        else {
            "target": funnel.target,
            "curves": funnel.curves,
            "points": [
                {
                    "size": one.of,
                    "value": one.part,
                    "said": f"{one.clinic.name}: {one.answer} of {one.of_words}" if one.clinic else "",
                    "name": one.clinic.name if one.clinic else "",
                }
                for one in funnel.points
                if one.part is not None and one.of is not None
            ],
        },
    }


def clinics(page: MeasurePage) -> Sequence[tuple[Shown, str]]:
    """The clinics of the funnel with where each lies."""
    if page.funnel is None:
        return []
    return [(one, page.funnel.places[one.clinic.pk] if one.clinic else "") for one in page.funnel.points]
