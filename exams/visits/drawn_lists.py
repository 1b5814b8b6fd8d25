"""Exams as rows of a table, put together without the template engine: a list has up to two hundred."""

from collections.abc import Iterable
from datetime import datetime
from html import escape

from django.utils.safestring import SafeString
from django.utils.timezone import localtime

from exams.visits.addresses import by_number
from exams.visits.models import Exam


def booked_rows(exams: Iterable[Exam]) -> SafeString:
    """Exams booked and under way."""
    patient, sheet = by_number("timeline:patient"), by_number("visits:sheet")
    return SafeString(
        "".join(
            f'<tr><td data-label="When" class="nowrap">{_at(exam.booked_for, "%b %H:%M")}</td>'
            f'<th scope="row"><a href="{patient(exam.patient_id)}">{(name := name_of(exam))}</a></th>'
            f'<td data-label="Exam">{escape(exam.get_exam_type_display())}</td>'
            f'<td data-label="Why">{escape(exam.get_indication_display() or "not given yet")}</td>'
            f'<td data-label="State">{escape(exam.get_state_display())}</td>'
            f'<td><a class="button quiet" href="{sheet(exam.pk)}">Open the sheet'
            f'<span class="visually-hidden"> of {name}</span></a></td></tr>'
            for exam in exams
        )
    )


def unreported_rows(exams: Iterable[Exam]) -> SafeString:
    """Measured exams that wait for a report."""
    patient, make = by_number("timeline:patient"), by_number("documents:make")
    return SafeString(
        "".join(
            f'<tr><td data-label="Measured" class="nowrap">{_at(exam.measured_at, "%b %Y %H:%M")}</td>'
            f'<th scope="row"><a href="{patient(exam.patient_id)}">{(name := name_of(exam))}</a></th>'
            f'<td data-label="Exam">{escape(exam.get_exam_type_display())}'
            f"{', limited' if exam.limited else ''}</td>"
            f'<td data-label="Why">{escape(exam.get_indication_display())}</td>'
            f'<td><a class="button quiet" href="{make(exam.pk)}">Make the report'
            f'<span class="visually-hidden"> for {name}</span></a></td></tr>'
            for exam in exams
        )
    )


def name_of(exam: Exam) -> str:
    """Whose exam it is, as a list says it."""
    return escape(f"{exam.patient.family_name}, {exam.patient.given_name}")


def _at(moment: datetime | None, form: str) -> str:
    there = localtime(moment)
    return f"{there.day} {there:{form}}"
