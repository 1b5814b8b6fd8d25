"""Taking a table back: as if it had never come, as long as nobody has worked with what it brought."""

from itertools import islice

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam, Preparation, Reading, Result
from jobs.models import Job
from jobs.services import start
from reports.exchange.models import Batch, BatchState, ImportedExam, ImportedPatient
from reports.exchange.queries.touched import touched_of
from reports.exchange.services.common import ABILITY, Tell, held, is_busy

TAKE_BACK = "taking back of a table"
TAKEN_AT_ONCE = 500


@one_act()
def ask_to_take_back(*, batch: Batch, because: str, by: Person) -> Job:
    """Have everything a table brought taken out again.

    Raises
    ------
    ValidationError
        Where somebody has worked with any of it since: named; nothing is taken out then.
    """
    require(by, ABILITY, batch)
    batch = held(batch)
    again = batch.state == BatchState.TAKING_BACK and not is_busy(batch)
    if batch.state != BatchState.IMPORTED and not again:
        raise ValidationError("Only a table that was taken in can be taken back.")
    because = " ".join(because.split())
    if not because:
        raise ValidationError({"because": "Say why: the reason is kept with the table."})
    _refuse_touched(batch)
    job = start(TAKE_BACK, by, {"batch": batch.pk})
    batch.state, batch.job, batch.taken_back_because = BatchState.TAKING_BACK, job, because[:200]
    batch.save()
    record(by, "table to be taken back", batch, details={"because": because})
    return job


def take_back(*, batch: Batch, by: Person, tell: Tell) -> None:
    """Take out what the table brought, all of it or nothing. Safe to run twice."""
    require(by, ABILITY, batch)
    if batch.state != BatchState.TAKING_BACK:
        return
    tell(10, "Taking out")
    try:
        _take_out(batch, by)
    except ValidationError:
        Batch.objects.filter(pk=batch.pk, state=BatchState.TAKING_BACK).update(state=BatchState.IMPORTED)
        raise


@one_act()
def _take_out(batch: Batch, by: Person) -> None:
    batch = held(batch)
    if batch.state != BatchState.TAKING_BACK:
        return
    # Held while it is asked whether anybody touched them: nobody can in between.
    people: dict[int, list[int]] = {}
    came = ImportedExam.objects.filter(batch=batch).order_by("pk")
    for exam in Exam.objects.select_for_update(of=("self",)).filter(came_with__batch=batch).order_by("pk"):
        people.setdefault(exam.patient_id, []).append(exam.pk)
    numbers = list(ImportedPatient.objects.filter(batch=batch).values_list("patient_number", flat=True))
    _refuse_touched(batch)
    exams = iter([exam for of_one in people.values() for exam in of_one])
    came.delete()
    while some := list(islice(exams, TAKEN_AT_ONCE)):
        Result.objects.filter(exam__in=some).delete()
        Reading.objects.filter(exam__in=some).delete()
        Preparation.objects.filter(exam__in=some).delete()
        Exam.objects.filter(pk__in=some).delete()
    ImportedPatient.objects.filter(batch=batch).delete()
    registered = iter(numbers)
    while some := list(islice(registered, TAKEN_AT_ONCE)):
        Identifier.objects.filter(patient__in=some).delete()
        Patient.objects.filter(pk__in=some).delete()
    batch.state, batch.taken_back_at, batch.taken_back_by = BatchState.TAKEN_BACK, clock.now(), by.user
    batch.save()
    for patient in sorted({*people, *numbers}):
        record(
            by, "taken back with a table", batch, patient=patient, details={"exams": people.get(patient, [])}
        )
    record(
        by, "table taken back", batch, details={"because": batch.taken_back_because, "sha256": batch.sha256}
    )


def _refuse_touched(batch: Batch) -> None:
    touched = touched_of(batch)
    if touched:
        named = "; ".join(one.words for one in touched[:5])
        more = f"; and {len(touched) - 5} more" if len(touched) > 5 else ""
        raise ValidationError(
            f"Somebody has worked with what this table brought, so it cannot be taken back as a "
            f"whole: {named}{more}. Nothing was changed. Correct the single exams instead.",
            code="touched",
        )
