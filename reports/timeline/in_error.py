"""The exams of a patient that were somebody else's, as the timeline names them."""

from datetime import datetime

from exams.identity.queries import exams_in_error
from exams.patients.models import Patient
from exams.visits.queries.chart import moment_of
from reports.timeline.series import day
from reports.timeline.years import InError


def in_error_of(patient: Patient, known_at: datetime | None) -> tuple[InError, ...]:
    """Oldest first; one query. On a past day those entered by then, with what was found out since.

    Whose they were is not said: it is nobody's business on this page.
    """
    zone = patient.clinic.zone
    found = [
        InError(
            exam.pk,
            moment_of(exam).astimezone(zone),
            f"{exam.closed_because} ({exam.in_error_by.full_name}, {day(exam.in_error_at.astimezone(zone))})",
        )
        for exam in exams_in_error(patient)
        if known_at is None or exam.created_at <= known_at
    ]
    return tuple(sorted(found, key=lambda one: (one.at, one.exam_id)))
