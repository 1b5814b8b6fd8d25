"""The exams of a patient that were somebody else's, as the timeline names them."""

from datetime import datetime, tzinfo

from exams.identity.queries import exams_in_error
from exams.patients.models import Patient
from exams.visits.models import Exam
from exams.visits.queries.chart import moment_of
from reports.timeline.series import day
from reports.timeline.years import InError


def in_error_of(patient: Patient, known_at: datetime | None) -> tuple[InError, ...]:
    """Oldest first; one query. On a past day those entered by then, with what was found out since.

    Whose they were is not said: it is nobody's business on this page.
    """
    found = [
        InError(exam.pk, moment_of(exam).astimezone(patient.clinic.zone), _words(exam, patient.clinic.zone))
        for exam in exams_in_error(patient)
        if known_at is None or exam.created_at <= known_at
    ]
    return tuple(sorted(found, key=lambda one: (one.at, one.exam_id)))


def _words(exam: Exam, zone: tzinfo) -> str:
    """Why, and who found it when; a constraint of the database says that all three are there."""
    who = exam.in_error_by.full_name if exam.in_error_by else ""
    when = day(exam.in_error_at.astimezone(zone)) if exam.in_error_at else ""
    return f"{exam.closed_because} ({who}, {when})"
