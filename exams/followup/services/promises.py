"""What was promised to a person: made, kept by somebody's word or by an exam, or called off."""

from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.followup.course import KEPT_BY_AN_EXAM, PromiseKind
from exams.followup.models import Promise
from exams.followup.services.common import check, living, need, one_of, refuse_not_to_come
from exams.hemodynamics import NotStated, Side
from exams.patients.models import Patient
from exams.patients.typed_date import written
from exams.visits.models import Exam, ExamState
from exams.visits.plan import DONE_STATES
from exams.visits.queries.results import stored_interpretation

_MAY = "keep promises"
_OVER = "This promise was kept or called off meanwhile. Nothing was changed; see what stands there."


@one_act()
def make_promise(
    *,
    patient: Patient,
    kind: str,
    words: str,
    due_on: date,
    by: Person,
    side: str = "",
    exam: Exam | None = None,
) -> Promise:
    """Something said to a person, with the last day on which it is kept in time.

    Parameters
    ----------
    exam : the exam at which it was said, if any.
    """
    require(by, _MAY, patient)
    patient = living(patient)
    kind = one_of(kind, PromiseKind.values, "kind", "Choose what was promised.")
    words = need(words, "words", "Say what was promised, in the words the person heard.")
    refuse_not_to_come("due_on", due_on, patient)
    if exam is not None and (exam.patient_id != patient.pk or exam.state == ExamState.IN_ERROR):
        raise ValidationError({"exam": "This exam is not this person's. Open the page from the right one."})
    promise = Promise(
        clinic=patient.clinic,
        patient=patient,
        exam=exam,
        kind=kind,
        side=side,
        words=words,
        due_on=due_on,
        made_at=clock.now(),
        made_by=by.user,
    )
    check(promise)
    promise.save()
    record(by, "promise made", promise, details={"kind": kind, "due": due_on})
    return promise


@one_act()
def keep_promise(*, promise: Promise, how: str, by: Person) -> Promise:
    """It was done, by this person's word."""
    require(by, _MAY, promise)
    promise = _held(promise)
    promise.kept_how = need(how, "how", "Say what was done.")
    promise.kept_at, promise.kept_by = clock.now(), by.user
    check(promise)
    promise.save()
    record(by, "promise kept", promise, details={"how": promise.kept_how})
    return promise


@one_act()
def call_off_promise(*, promise: Promise, because: str, by: Person) -> Promise:
    """It is not done any more, and why."""
    require(by, _MAY, promise)
    promise = _held(promise)
    promise.called_off_because = need(because, "because", "Say why: the reason is kept with the record.")
    promise.called_off_at, promise.called_off_by = clock.now(), by.user
    check(promise)
    promise.save()
    record(by, "promise called off", promise, details={"because": promise.called_off_because})
    return promise


def follow_exam(*, exam: Exam, by: Person) -> None:
    """Keep what a finished exam keeps; open again what one kept that is not finished any more.

    Part of the act that changed the exam. "Measure again" is kept by any exam measured after the promise;
    "repeat with warm feet" only where every foot meant was measured for warmth and none was cold.
    """
    for promise in Promise.objects.select_for_update().filter(kept_exam=exam).order_by("pk"):
        if exam.state not in DONE_STATES:
            _open_again(promise, exam, by)
    if exam.state not in DONE_STATES or exam.measured_at is None:
        return
    standing = Promise.objects.select_for_update().filter(
        patient_id=exam.patient_id,
        kind__in=KEPT_BY_AN_EXAM,
        kept_at=None,
        called_off_at=None,
        made_at__lt=exam.measured_at,
    )
    for promise in standing.exclude(exam=exam).order_by("pk"):
        if promise.kind == PromiseKind.MEASURE or _was_warm(exam, promise.side):
            on = exam.measured_at.astimezone(exam.clinic.zone).date()
            promise.kept_at, promise.kept_by, promise.kept_exam = clock.now(), by.user, exam
            promise.kept_how = f"exam measured {written(on)}"
            check(promise)
            promise.save()
            record(by, "promise kept", promise, details={"exam": exam.pk})


def _open_again(promise: Promise, exam: Exam, by: Person) -> None:
    promise.kept_at = promise.kept_by = promise.kept_exam = None
    promise.kept_how = ""
    promise.save()
    record(by, "promise open again", promise, details={"exam": exam.pk, "is": exam.state})


def _was_warm(exam: Exam, side: str) -> bool:
    """Whether the toe skin of ``side``, or of both where none is named, was measured and not cold."""
    found = stored_interpretation(exam)
    for one in (Side(side),) if side else tuple(Side):
        finding = found.of("toe_skin_temperature", one)
        if finding is None or isinstance(finding.value, NotStated) or "COLD_TOE" in finding.flags:
            return False
    return True


def _held(promise: Promise) -> Promise:
    patient = living(promise.patient)
    found = Promise.objects.select_for_update(of=("self",)).get(pk=promise.pk)
    found.patient = patient
    if found.kept_at is not None or found.called_off_at is not None:
        raise ValidationError(_OVER)
    return found
