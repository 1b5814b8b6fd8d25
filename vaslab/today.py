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
from exams.followup.queries.promises import promises_due
from exams.followup.queries.recalls import ON_TODAY, recall_list
from exams.followup.queries.referrals import referrals_waiting
from exams.traces.queries.exam import waiting_for_review
from exams.visits.queries.exams import booked_and_open, exams_without_report, open_hand_overs
from jobs.queries import failed_jobs
from reports.documents.queries import being_made

# That nothing of these waits is no news.
SHOWN_IF_ANY = frozenset({"jobs", "traces", "referrals", "promises", "recalls"})
# Which lists a role sees, the most pressing first. Somebody with several roles sees the first that fits.
ORDER = (
    (
        "measurer",
        ("hand_overs", "exams", "referrals", "promises", "traces", "without_report", "recalls", "jobs"),
    ),
    ("reporter", ("hand_overs", "referrals", "traces", "without_report", "promises", "jobs", "exams")),
    ("wound_team", ("hand_overs", "referrals", "promises", "exams", "recalls")),
    ("system_administrator", ("jobs",)),
    ("administrator", ("counts",)),
    ("educator", ()),
)


@dataclass(frozen=True)
class Section:
    """One list of the page; ``key`` names the template that draws it."""

    key: str
    rows: Any
    # How many more there are: reports under way, which ask nothing of anybody; recalls of the longer list.
    under_way: int = 0

    @property
    def template(self) -> str:
        return f"vaslab/_today_{self.key}.html"


def today(request: HttpRequest) -> HttpResponse:
    person: Person = request.person  # the role matrix lets nobody in who is not signed in
    sections = [_section(key, person) for key in _keys(person)]
    # That no job failed is news only to somebody who came to see that.
    sections = [
        section
        for section in sections
        if section.key not in SHOWN_IF_ANY or section.rows or len(sections) == 1
    ]
    if any(section.key in {"hand_overs", "exams", "without_report"} for section in sections):
        record_view(person, "today viewed")
    return render(
        request,
        "vaslab/today.html",
        {"sections": sections, "lead": _lead(sections, person), "now": clock.now()},
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
        return _without_report(person)
    if key == "traces":
        return Section(key, waiting_for_review(person))
    if key == "referrals":
        return Section(key, referrals_waiting(person))
    if key == "promises":
        return Section(key, promises_due(person))
    if key == "recalls":
        return _recalls(person)
    if key == "jobs":
        return Section(key, list(failed_jobs(person)) if person.clinic else [])
    # Numbers only: an administrator has no care role, so no names.
    slips, unreported = open_hand_overs(person), _without_report(person)
    return Section(
        key,
        {
            "hand_overs": len(slips),
            "overdue": sum(slip.is_overdue(clock.now()) for slip in slips),
            "exams": len(booked_and_open(person, until=_end_of_today(person))),
            "without_report": len(unreported.rows),
            "being_made": unreported.under_way,
        },
    )


def _without_report(person: Person) -> Section:
    """Exams whose report somebody has yet to make. One asked for already is only counted: it makes itself."""
    exams, asked_for = exams_without_report(person), being_made(person)
    rows = [exam for exam in exams if exam.pk not in asked_for]
    return Section("without_report", rows, under_way=len(exams) - len(rows))


def _recalls(person: Person) -> Section:
    """Who is overdue, the longest first; the list itself has the rest."""
    found = recall_list(person, most=ON_TODAY)
    rows = tuple(line for line in found.lines if line.overdue_days)
    return Section("recalls", rows, under_way=found.overdue - len(rows))


def _end_of_today(person: Person) -> datetime:
    zone = person.clinic.zone if person.clinic else None
    tomorrow = clock.now().astimezone(zone).date() + timedelta(days=1)
    return datetime.combine(tomorrow, time.min, zone)


def _lead(sections: list[Section], person: Person) -> str:
    """The one sentence at the top: the most pressing thing there is."""
    if any(section.key == "counts" for section in sections):
        return _lead_in_numbers(sections[0].rows, person)
    said = {
        "hand_overs": (
            "One critical result waits to be handed over.",
            "{} critical results wait to be handed over.",
        ),
        "referrals": (
            "One referral waits for you, or has waited too long.",
            "{} referrals wait for you, or have waited too long.",
        ),
        "promises": ("One promise is due or broken.", "{} promises are due or broken."),
        "recalls": ("One person is overdue for recall.", "{} people are overdue for recall."),
        "exams": ("One exam is booked or open.", "{} exams are booked or open."),
        "traces": ("One recording waits for a reader.", "{} recordings wait for a reader."),
        "without_report": ("One exam has no report yet.", "{} exams have no report yet."),
        "jobs": ("One background job failed.", "{} background jobs failed."),
    }
    for section in sections:
        if section.key in said and section.rows:
            one, many = said[section.key]
            count = section.rows if isinstance(section.rows, int) else len(section.rows)
            count += section.under_way if section.key == "recalls" else 0
            return one if count == 1 else many.format(count)
    return "Nothing waits for you here."


def _lead_in_numbers(rows: dict[str, int], person: Person) -> str:
    where = person.clinic.name if person.clinic else "the service"
    waiting = rows["hand_overs"]
    if not waiting:
        return f"Every critical result of {where} was handed over."
    results = "One critical result" if waiting == 1 else f"{waiting} critical results"
    return f"{results} of {where} {'is' if waiting == 1 else 'are'} not handed over yet."
