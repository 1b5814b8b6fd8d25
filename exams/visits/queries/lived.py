"""The exams at which a person was there, for the room below: nobody is born after one, nor dies before."""

from exams.patients.models import Patient
from exams.patients.services import OnRecord
from exams.patients.typed_date import written
from exams.visits.models import Exam, ExamState
from exams.visits.queries.chart import moment_of

NOBODY_CAME = (ExamState.IN_ERROR, ExamState.BOOKED, ExamState.NOT_ATTENDED)


def exams_lived(patient: Patient) -> list[OnRecord]:
    """Every exam that somebody came to, with its day in the clinic's zone; one query."""
    been = Exam.objects.filter(patient=patient).exclude(state__in=NOBODY_CAME)
    days = [moment_of(one).astimezone(patient.clinic.zone).date() for one in been]
    return [OnRecord(on, on, f"exam of {written(on)}") for on in days]
