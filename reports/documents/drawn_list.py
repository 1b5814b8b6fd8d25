"""The rows of the list of reports, put together without the template engine."""

from collections.abc import Iterable
from datetime import datetime
from html import escape

from django.utils.safestring import SafeString
from django.utils.timesince import timesince
from django.utils.timezone import localtime

from exams.visits.addresses import by_number
from exams.visits.drawn_lists import name_of
from exams.visits.models import Exam
from reports.documents.models import Document


def waiting_rows(exams: Iterable[Exam], *, may_make: bool, now: datetime) -> SafeString:
    """Measured exams without a report, and what to do."""
    make = by_number("documents:make")
    rows = []
    for exam in exams:
        # Only measured exams wait.
        name, measured_at = name_of(exam), exam.measured_at or now
        to_do = "A measurer or reporter makes it"
        if may_make:
            to_do = (
                f'<a class="button quiet" href="{make(exam.pk)}">Make the report'
                f'<span class="visually-hidden"> for {name}</span></a>'
            )
        rows.append(
            f'<tr><th scope="row">{name}</th>'
            f'<td data-label="Exam">{escape(exam.get_exam_type_display())}</td>'
            f'<td data-label="Waits since it was measured">{_at(measured_at, ", %H:%M")}'
            f'<small class="soft">, {timesince(measured_at, now)}</small></td>'
            f'<td data-label="What to do">{to_do}</td></tr>'
        )
    return SafeString("".join(rows))


def made_rows(documents: Iterable[Document], now: datetime) -> SafeString:
    """Reports that were asked for, with the way to each and to its PDF."""
    address, pdf = by_number("documents:document"), by_number("documents:pdf")
    rows = []
    for one in documents:
        name = name_of(one.exam)
        hidden = f'<span class="visually-hidden"> of {name}</span>'
        withdrawn = ", <strong>withdrawn</strong>" if one.exam.state == "in_error" else ""
        if one.is_ready:
            file = (
                f'<a href="{pdf(one.pk)}">Download'
                f'<span class="visually-hidden"> report {one.number} of {name}</span></a>'
            )
        elif one.job is not None:
            asked = f"asked for {timesince(one.created_at, now)} ago"
            file = f'{escape(one.job.get_state_display())}<small class="soft">, {asked}</small>'
        else:
            file = "not ready"
        rows.append(
            f'<tr><th scope="row">{name}</th>'
            f'<td data-label="Report"><a href="{address(one.pk)}">Report {one.number}{hidden}</a>, '
            f"exam of {_at(one.exam.first_inflation_at or one.exam.booked_for)}{withdrawn}</td>"
            f'<td data-label="Made">{_at(one.created_at, ", %H:%M")}</td>'
            f'<td data-label="By">{escape(one.created_by.full_name)}</td>'
            f'<td data-label="PDF">{file}</td></tr>'
        )
    return SafeString("".join(rows))


def _at(moment: datetime | None, time: str = "") -> str:
    there = localtime(moment)
    return f"{there.day} {there:%b %Y{time}}"
