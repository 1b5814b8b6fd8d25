"""Today: what waits for this person, in the order their role needs it."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from access import clock
from access.people import Person
from access.permissions import allowed
from access.trail import record_view
from exams.visits.queries.exams import booked_and_open, exams_without_report, open_hand_overs
from jobs.queries import failed_jobs

# Which lists a role sees, the most pressing first. Somebody with several roles sees the first that fits.
ORDER = (
    ("measurer", ("hand_overs", "exams", "without_report", "jobs")),
    ("reporter", ("hand_overs", "without_report", "jobs", "exams")),
    ("wound_team", ("hand_overs", "exams")),
    ("system_administrator", ("jobs",)),
    ("administrator", ("counts",)),
    ("educator", ()),
)


@dataclass(frozen=True)
class Section:
    """One list of the page; ``key`` names the template that draws it."""

    key: str
    rows: Any

    @property
    def template(self) -> str:
        return f"vaslab/_today_{self.key}.html"


def today(request: HttpRequest) -> HttpResponse:
    person: Person = request.person  # the role matrix lets nobody in who is not signed in
    sections = [_section(key, person) for key in _keys(person)]
    if any(section.key in {"hand_overs", "exams", "without_report"} for section in sections):
        record_view(person, "today viewed")
    return render(
        request,
        "vaslab/today.html",
        {"sections": sections, "lead": _lead(sections), "now": clock.now()},
    )


def _keys(person: Person) -> tuple[str, ...]:
    if person.clinic is None:
        return ("jobs",) if allowed(person, "see jobs") else ()
    return next((keys for role, keys in ORDER if role in person.roles), ())


def _section(key: str, person: Person) -> Section:
    if key == "hand_overs":
        return Section(key, open_hand_overs(person))
    if key == "exams":
        return Section(key, booked_and_open(person, until=_end_of_today(person)))
    if key == "without_report":
        return Section(key, exams_without_report(person))
    if key == "jobs":
        return Section(key, list(failed_jobs(person)) if person.clinic else [])
    # Numbers only: an administrator has no care role, so no names.
    return Section(
        key,
        {
            "hand_overs": len(open_hand_overs(person)),
            "exams": len(booked_and_open(person, until=_end_of_today(person))),
            "without_report": len(exams_without_report(person)),
        },
    )


def _end_of_today(person: Person) -> datetime:
    zone = person.clinic.zone if person.clinic else None
    tomorrow = clock.now().astimezone(zone).date() + timedelta(days=1)
    return datetime.combine(tomorrow, time.min, zone)


def _lead(sections: list[Section]) -> str:
    """The one sentence at the top: the most pressing thing there is."""
    said = {
        "hand_overs": (
            "One critical result waits to be handed over.",
            "{} critical results wait to be handed over.",
        ),
        "exams": ("One exam is booked or open.", "{} exams are booked or open."),
        "without_report": ("One exam has no report yet.", "{} exams have no report yet."),
        "jobs": ("One background job failed.", "{} background jobs failed."),
    }
    for section in sections:
        if section.key in said and section.rows:
            one, many = said[section.key]
            return one if len(section.rows) == 1 else many.format(len(section.rows))
    return "Nothing waits for you here."
