"""The course of an exam: booked, identity, indication, cautions, rest, measured; or how else it ended."""

from datetime import datetime, timedelta

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.models import Caution, Patient
from exams.patients.queries import today_in
from exams.patients.services import review_caution
from exams.patients.services.common import refuse_merged
from exams.patients.typed_date import written
from exams.visits.agreement.services import follow_pairs
from exams.visits.models import Exam, ExamState, Indication
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import chart_of
from exams.visits.queries.steps import HOW_IDENTIFIED
from exams.visits.services.acts import check, held, need, state_after
from exams.visits.services.announcing import tell_finished
from exams.visits.services.readings import prefill_protected_sites
from exams.visits.services.results import refresh_results
from exams.visits.wording import OTHER_REASON_MISSING, place_words


@one_act()
def book_exam(
    *,
    patient: Patient,
    exam_type: str,
    booked_for: datetime,
    by: Person,
    indication: str = "",
    indication_text: str = "",
    referrer: str = "",
    entered_later: bool = False,
) -> Exam:
    """Book an exam. One that is `entered_later` was measured on paper: its times are typed and say so."""
    require(by, "book exam", patient)
    refuse_merged(patient)
    _refuse_outside_life(patient, booked_for, "booked_for")
    if entered_later and booked_for > clock.now():
        raise ValidationError({"booked_for": "An exam entered later cannot be in the future."})
    if not entered_later and booked_for < clock.now() - timedelta(days=1):
        raise ValidationError(
            {"booked_for": "This day is over. For an exam measured on paper, choose “entered later”."}
        )
    exam = Exam(
        clinic=patient.clinic,
        patient=patient,
        exam_type=exam_type,
        booked_for=booked_for,
        indication=indication,
        indication_text=_indication_text(indication, indication_text),
        referrer=referrer.strip(),
        entered_later=entered_later,
        created_at=clock.now(),
        created_by=by.user,
    )
    check(exam)
    exam.save()
    record(by, "exam booked", exam, details={"type": exam_type, "for": booked_for})
    return exam


@one_act()
def confirm_identity(*, exam: Exam, how: str, by: Person) -> Exam:
    """The person on the couch is the person of the record. `how` is a key of HOW_IDENTIFIED."""
    require(by, "measure", exam)
    exam = held(exam)
    after = state_after(exam, "identity")
    _refuse_outside_life(exam.patient, exam.booked_for, "how")
    if how not in HOW_IDENTIFIED:
        raise ValidationError({"how": "Choose how the identity was confirmed."})
    exam.state = after
    exam.identity_confirmed_at, exam.identity_confirmed_by = clock.now(), by.user
    exam.identity_confirmed_how = HOW_IDENTIFIED[how]
    exam.save()
    record(by, "identity confirmed", exam, details={"how": exam.identity_confirmed_how})
    return exam


@one_act()
def set_indication(
    *, exam: Exam, indication: str, indication_text: str = "", referrer: str = "", by: Person
) -> Exam:
    """Why the test is done. It must be known before anything is measured."""
    require(by, "book exam", exam)
    exam = held(exam)
    if exam.state in (ExamState.REPORTED, ExamState.NOT_ATTENDED, ExamState.STOPPED, ExamState.IN_ERROR):
        raise ValidationError(
            {"indication": f"This exam is {exam.get_state_display()}. Nothing was changed."}
        )
    if indication not in Indication.values:
        raise ValidationError({"indication": "Choose why the test is done."})
    before = exam.indication
    exam.indication = indication
    exam.indication_text = _indication_text(indication, indication_text)
    exam.referrer = referrer.strip()
    check(exam)
    exam.save()
    record(by, "indication recorded", exam, details={"old": before, "new": indication})
    return exam


@one_act()
def confirm_cautions(*, exam: Exam, by: Person) -> Exam:
    """Both arms and legs were checked for reasons not to inflate a cuff, and those on record are still true.

    Planned sites that are protected get their reason at once, so that nobody has to type it.
    """
    require(by, "measure", exam)
    # The cautions before the exam, as where a caution is changed and the exam read again: two acts that took
    # them the other way about would wait for each other, and one of them would fail.
    list(Caution.objects.select_for_update().filter(patient_id=exam.patient_id).order_by("pk"))
    exam = held(exam)
    if exam.state not in (ExamState.IDENTIFIED, ExamState.RESTING, ExamState.MEASURING):
        state_after(exam, "reading")
    exam.cautions_confirmed_at = clock.now()
    exam.save()
    record(by, "cautions confirmed", exam)
    today = today_in(exam.clinic)
    chart = chart_of(exam)
    for caution in chart.cautions:
        # One that held on the exam's day and has ended since asks nothing. One whose review date has passed
        # needs a new date, which is asked for on the patient's page.
        if caution.ended_on is None and (caution.review_on is None or caution.review_on > today):
            review_caution(caution=caution, review_on=caution.review_on, by=by)
    prefill_protected_sites(chart=chart, by=by)
    return exam


@one_act()
def lie_flat(*, exam: Exam, by: Person, at: datetime | None = None) -> Exam:
    """The rest clock starts, or starts again, now. Only an exam entered later may name another time."""
    require(by, "measure", exam)
    exam = held(exam)
    after = state_after(exam, "lying_flat")
    if at is not None and not exam.entered_later:
        raise ValidationError(
            {"lying_flat": "The clock starts now. Only an exam entered later has a typed time."}
        )
    if at is not None and at > clock.now():
        raise ValidationError({"lying_flat": "This is in the future. Give the time it really was."})
    before, exam.lying_flat_at = exam.lying_flat_at, at or clock.now()
    exam.state = after
    exam.save()
    record(by, "rest clock started", exam, details={"old": before, "new": exam.lying_flat_at})
    return exam


@one_act()
def set_typed_times(
    *, exam: Exam, lying_flat_at: datetime | None, first_inflation_at: datetime, by: Person
) -> Exam:
    """Times of an exam entered later, as they stand on the paper; the rest made of them says so."""
    require(by, "measure", exam)
    exam = held(exam)
    if not exam.entered_later:
        raise ValidationError({"first_inflation_at": "Only an exam entered later has typed times."})
    if exam.state in DONE_STATES:
        state_after(exam, "reading")
    if first_inflation_at > clock.now():
        raise ValidationError({"first_inflation_at": "This is in the future. Give the time on the paper."})
    if lying_flat_at is not None and lying_flat_at > first_inflation_at:
        raise ValidationError(
            {"lying_flat_at": "This is after the first pressure. Give the times on the paper."}
        )
    exam.lying_flat_at, exam.first_inflation_at = lying_flat_at, first_inflation_at
    exam.save()
    record(by, "times typed later", exam, details={"lying": lying_flat_at, "first": first_inflation_at})
    refresh_results(exam=exam, by=by)
    return exam


@one_act()
def finish_measuring(*, exam: Exam, by: Person) -> Exam:
    """Measured: every planned site has a reading or a reason. `limited` where a reason stands for a site."""
    require(by, "measure", exam)
    exam = held(exam)
    after = state_after(exam, "measured")
    chart = chart_of(exam)
    if prefill_protected_sites(chart=chart, by=by):
        chart = chart_of(exam)
    if chart.missing:
        sites = ", ".join(place_words(place.side, place.site) for place in chart.missing)
        raise ValidationError(
            {"measured": f"Still without a reading or a reason: {sites}. Everything typed is kept."}
        )
    exam.state = after
    exam.limited = chart.is_limited
    exam.measured_at = (exam.first_inflation_at or exam.booked_for) if exam.entered_later else clock.now()
    exam.measured_by = by.user
    exam.save()
    record(by, "exam measured", exam, details={"limited": exam.limited})
    refresh_results(exam=exam, by=by, chart=chart)
    tell_finished(exam, by)
    return exam


@one_act()
def stop_exam(*, exam: Exam, because: str, by: Person) -> Exam:
    """Stopped before it was complete; what was measured stays and is read."""
    require(by, "measure", exam)
    exam = held(exam)
    exam.state = state_after(exam, "stopped")
    exam.closed_because = need(because, "because", "Say why it was stopped. What was measured is kept.")
    check(exam)
    exam.save()
    record(by, "exam stopped", exam, details={"because": exam.closed_because})
    return exam


@one_act()
def not_attended(*, exam: Exam, because: str, by: Person) -> Exam:
    """The person did not come."""
    require(by, "book exam", exam)
    exam = held(exam)
    exam.state = state_after(exam, "not_attended")
    exam.closed_because = need(because, "because", "Say what is known: did not come, cancelled by whom.")
    check(exam)
    exam.save()
    record(by, "exam not attended", exam, details={"because": exam.closed_because})
    return exam


@one_act()
def reopen(*, exam: Exam, because: str, by: Person) -> Exam:
    """Open a closed exam again: the person came after all, or a value is to be added."""
    require(by, "measure", exam)
    exam = held(exam)
    before = exam.state
    exam.state = state_after(exam, "reopen")
    because = need(because, "because", "Say why it is opened again.")
    exam.closed_because, exam.limited = "", False
    exam.measured_at = exam.measured_by = None
    exam.save()
    follow_pairs(patient=exam.patient, by=by)
    record(by, "exam opened again", exam, details={"was": before, "because": because})
    tell_finished(exam, by)
    return exam


@one_act()
def mark_reported(*, exam: Exam, by: Person) -> Exam:
    """A report of the exam exists. Called by the room that makes reports."""
    require(by, "make report", exam)
    exam = held(exam)
    before = exam.state
    exam.state = state_after(exam, "reported")
    if exam.state != before:
        exam.save()
        record(by, "exam reported", exam)
    return exam


def _refuse_outside_life(patient: Patient, at: datetime, field: str) -> None:
    """ValidationError at the field where the exam's day lies after the person's death, or before birth."""
    on = at.astimezone(patient.clinic.zone).date()
    if patient.died_on and on > patient.died_on:
        raise ValidationError(
            {
                field: f"This person died on {written(patient.died_on)}, before {written(on)}: no exam is "
                "possible then. If the day of death is wrong, mend it first under “Change details”. An exam "
                "measured on paper while the person lived is booked on its own day as “entered later”."
            },
            code="after death",
        )
    if on < patient.birth_date:
        raise ValidationError(
            {field: f"{written(on)} is before this person was born. Check the year."}, code="before birth"
        )


def _indication_text(indication: str, words: str) -> str:
    if indication == Indication.OTHER and not words.strip():
        raise ValidationError({"indication_text": OTHER_REASON_MISSING})
    return words.strip()
