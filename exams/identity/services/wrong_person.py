"""An exam of the wrong person: marked entered in error where it stands, entered again where it belongs."""

from typing import TypeVar
from uuid import uuid4

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.identity.services.merges import NO_REASON
from exams.patients.models import Patient
from exams.traces.models import Analysis, Trace
from exams.traces.models import State as TraceState
from exams.visits.further.models import FurtherEntry
from exams.visits.models import Exam, ExamState, HandOver, Preparation, Reading
from exams.visits.plan import DONE_STATES, OPEN_STATES
from exams.visits.queries.chart import INFLATED, Chart, chart_of, moment_of
from exams.visits.services import refresh_results, reinterpret_latest
from exams.visits.services.acts import held
from exams.visits.services.announcing import tell_finished
from exams.visits.wording import place_words

HOW_AGAIN = "entered again: the exam had been recorded under another person"
NOT_ASKED = "inflated before it was known whose arm or leg it was"
# What is copied of each row; who, when and what it replaced are of the new row itself.
_OF_AN_EXAM = (
    "clinic_id",
    "exam_type",
    "booked_for",
    "indication",
    "indication_text",
    "referrer",
    "lying_flat_at",
    "first_inflation_at",
    "measured_at",
    "measured_by_id",
    "entered_later",
    "imported_from",
)
_OF_A_READING = (
    "side", "site", "attempt", "outcome", "pressure_mmhg", "reason", "reason_text", "technique",
    "cuff_width_mm", "typed_at",
)  # fmt: skip
_OF_A_TRACE = (
    "clinic_id", "side", "site", "attempt", "technique", "cuff_width_mm", "kind", "state", "original",
    "original_name", "original_sha256", "original_size", "format", "columns", "samples", "samples_sha256",
    "sample_count", "duration_s", "sampling_hz", "recorded_at", "received_at", "received_by_id",
)  # fmt: skip
_OF_AN_ANALYSIS = (
    "version", "reading", "pressure_mmhg", "low_mmhg", "high_mmhg", "usable", "confidence", "computed_at",
)  # fmt: skip


Entered = TypeVar("Entered", Reading, Preparation, FurtherEntry)


@one_act()
def enter_under_right_person(*, exam: Exam, patient: Patient, because: str, by: Person) -> Exam:
    """Mark ``exam`` entered in error, and enter what stands in it again under ``patient``.

    Nothing is moved: the wrong exam stays where it is, struck through. The new one is measured, not
    reported; cautions, findings and hand-over are those of the right person, and its recordings wait for a
    reader again.

    Raises
    ------
    ValidationError
        Where nothing is recorded yet, or the right person cannot have had this exam.
    """
    require(by, "correct identity", exam)
    require(by, "correct identity", patient)
    wrong = held(exam)
    if wrong.state not in (*DONE_STATES, *OPEN_STATES, ExamState.STOPPED):
        raise ValidationError(_nothing_to_enter(wrong))
    if not because.strip():
        raise ValidationError({"because": NO_REASON})
    if patient.pk == wrong.patient_id or patient.merged_into_id is not None:
        raise ValidationError(
            {"patient": "This exam stands under this person already. Choose somebody else."}
        )
    _refuse_outside_life(wrong, patient)

    again = Exam(patient=patient, **{name: getattr(wrong, name) for name in _OF_AN_EXAM})
    again.state = ExamState.MEASURED if wrong.state in DONE_STATES else wrong.state
    again.closed_because = wrong.closed_because
    again.identity_confirmed_at, again.identity_confirmed_by = clock.now(), by.user
    again.identity_confirmed_how = HOW_AGAIN
    again.created_at, again.created_by = clock.now(), by.user
    again.entered_again_from = wrong
    again.save()
    again = held(again)
    chart, theirs = chart_of(wrong), chart_of(again)
    _refuse_what_is_not_there(chart, theirs)
    _copy_readings(chart, theirs, by)
    _copy_conditions(wrong, again, by)
    recordings = _copy_recordings(wrong, again)
    if again.state == ExamState.MEASURED:
        again.limited = chart_of(again).is_limited
        again.save()

    was = wrong.state
    _mark_in_error(wrong, because.strip(), by)
    details = {
        "was": was,
        "because": wrong.closed_because,
        "entered again as exam": again.pk,
        "recordings entered again": recordings,
    }
    record(by, "exam entered in error", wrong, details=details)
    record(
        by,
        "exam entered again under the right person",
        again,
        details={"from exam": wrong.pk, "because": wrong.closed_because},
    )
    refresh_results(exam=again, by=by)
    for one in (wrong, again):
        tell_finished(one, by)
    # What was recorded of the limbs since may bear on an earlier exam, now that this one is none of theirs.
    reinterpret_latest(patient=wrong.patient, by=by)
    return again


def _nothing_to_enter(exam: Exam) -> str:
    if exam.state == ExamState.IN_ERROR:
        return "This exam was entered again under the right person already. Nothing was changed."
    return (
        f"This exam is {exam.get_state_display()}: nothing was measured. Say on its sheet that the person "
        "did not attend, and book the right person."
    )


def _refuse_outside_life(exam: Exam, patient: Patient) -> None:
    on = moment_of(exam).astimezone(exam.clinic.zone).date()
    if on < patient.birth_date or (patient.died_on and on > patient.died_on):
        raise ValidationError(
            {"patient": "This person was not alive on the day of the exam. Choose another."}
        )


def _refuse_what_is_not_there(chart: Chart, theirs: Chart) -> None:
    gone = [
        place_words(place.side, place.site)
        for place, row in chart.standing.items()
        if row.outcome in INFLATED and place.site in theirs.lost(place.side)
    ]
    if gone:
        raise ValidationError(
            {
                "patient": f"The exam has a value at {', '.join(sorted(set(gone)))}, which this person had "
                "lost by then. Choose another person, or correct the facts of the limbs first."
            }
        )


def _copy_readings(chart: Chart, theirs: Chart, by: Person) -> None:
    for place, row in sorted(chart.standing.items(), key=lambda item: item[1].pk):
        copy = Reading(exam=theirs.exam, **{name: getattr(row, name) for name in _OF_A_READING})
        _entered_now(copy, by)
        if row.override_by_id is not None:
            copy.override_by_id, copy.override_because = row.override_by_id, row.override_because
        elif row.outcome in INFLATED and theirs.lock_words(place.side, place.site):
            copy.override_by, copy.override_because = by.user, NOT_ASKED
        copy.save()


def _copy_conditions(wrong: Exam, again: Exam, by: Person) -> None:
    for row in Preparation.objects.filter(exam=wrong, replaced_by=None).exclude(value="").order_by("pk"):
        copy = Preparation(exam=again, item=row.item, value=row.value, typed_at=row.typed_at)
        _entered_now(copy, by).save()
    for entry in FurtherEntry.objects.filter(exam=wrong, replaced_by=None).exclude(value="").order_by("pk"):
        further = FurtherEntry(
            exam=again, test=entry.test, field=entry.field, value=entry.value, typed_at=entry.typed_at
        )
        _entered_now(further, by).save()


def _entered_now(row: Entered, by: Person) -> Entered:
    row.client_id, row.entered_at, row.entered_by = uuid4(), clock.now(), by.user
    return row


def _copy_recordings(wrong: Exam, again: Exam) -> int:
    """Recordings that were read, with what the program saw in them; whoever reads them marks them anew."""
    read = Trace.objects.filter(exam=wrong, state=TraceState.READ, withdrawn_at=None).order_by("pk")
    count = 0
    for trace in read.prefetch_related("analyses"):
        copy = Trace.objects.create(exam=again, **{name: getattr(trace, name) for name in _OF_A_TRACE})
        Analysis.objects.bulk_create(
            Analysis(trace=copy, **{name: getattr(one, name) for name in _OF_AN_ANALYSIS})
            for one in trace.analyses.all()
        )
        count += 1
    return count


def _mark_in_error(wrong: Exam, because: str, by: Person) -> None:
    wrong.state = ExamState.IN_ERROR
    wrong.closed_because = because[:200]
    wrong.in_error_at, wrong.in_error_by = clock.now(), by.user
    wrong.save()
    for slip in HandOver.objects.select_for_update().filter(exam=wrong, closed_at=None).order_by("pk"):
        slip.raised_in_error_because = f"The exam is another person's: {because}"[:300]
        slip.closed_at, slip.closed_by = clock.now(), by.user
        slip.save()
        record(by, "hand-over raised in error", slip, details={"because": slip.raised_in_error_because})
