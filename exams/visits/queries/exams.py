"""One exam, or a list of them, for a person of its clinic."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q, QuerySet
from django.db.models.functions import Coalesce

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState, ExamType, HandOver, HandOverAttempt, Reading
from exams.visits.plan import OPEN_STATES
from exams.visits.sheet import HandOverLine
from exams.visits.wording import NOT_URGENT_NOW

# What a line of a list says of an exam and its patient.
LINE = (
    "patient__family_name",
    "patient__given_name",
    "exam_type",
    "state",
    "limited",
    "indication",
    "booked_for",
    "measured_at",
)
_TYPES: dict[str, str] = {kind.value: str(kind.label) for kind in ExamType}
_STATES: dict[str, str] = {state.value: str(state.label) for state in ExamState}


def exam_for(person: Person, exam_id: int) -> Exam:
    """The exam, with its clinic and patient; NotHere (a 404) for a number of another clinic or of nobody."""
    require(person, "see exam")
    found = Exam.objects.filter(clinic=person.clinic, pk=exam_id)
    exam = next(iter(found.select_related("patient", "measured_by", "identity_confirmed_by")), None)
    if exam is None or person.clinic is None:
        raise NotHere("no such exam in this clinic")
    # The clinic acted in is at hand and need not be read again.
    exam.patient.clinic = person.clinic
    return of_known(exam.patient, person.clinic, exam)


def reading_for(person: Person, exam_id: int, reading_id: int) -> Reading:
    """A reading that stands (not one already replaced), with its exam."""
    require(person, "see exam")
    reading = (
        Reading.objects.filter(
            exam__clinic=person.clinic, exam_id=exam_id, pk=reading_id, replaced_by=None, withdrawn=False
        )
        .select_related("exam__clinic", "exam__patient", "entered_by")
        .first()
    )
    if reading is None:
        raise NotHere("no such reading in this clinic, or it was replaced")
    return reading


def hand_over_for(person: Person, hand_over_id: int) -> HandOver:
    """A slip, with its exam and patient."""
    require(person, "see exam")
    found = (
        HandOver.objects.filter(exam__clinic=person.clinic, pk=hand_over_id)
        .select_related("exam__clinic", "exam__patient", "raised_by", "told_by", "closed_by")
        .first()
    )
    if found is None:
        raise NotHere("no such hand-over in this clinic")
    return found


def exams_of(person: Person, patient: Patient) -> list[Exam]:
    """The exams of a patient, the newest first; none that was entered in error for somebody else's."""
    require(person, "see exam", patient)
    return exams_on_record(patient)


def exams_on_record(patient: Patient, only: Collection[int] | None = None) -> list[Exam]:
    """The same, whoever asks; with `only`, those of these numbers."""
    exams = exams_on_record_rows(patient).select_related("measured_by")
    if only is not None:
        exams = exams.filter(pk__in=only)
    return [of_known(patient, patient.clinic, exam) for exam in exams.order_by("-booked_for", "-pk")]


def exams_on_record_rows(patient: Patient) -> QuerySet[Exam]:
    """The exams of a patient but for those entered in error for somebody else's."""
    return Exam.objects.filter(clinic=patient.clinic, patient=patient).exclude(state=ExamState.IN_ERROR)


@dataclass(frozen=True)
class ExamLine:
    """One exam as a line of its patient's list; `on` is the day in the clinic's zone."""

    exam_id: int
    on: date
    type_label: str
    state: str
    state_label: str
    limited: bool
    closed_because: str
    measured_at: datetime | None
    measured_by: str


def exam_lines(person: Person, patient: Patient, most: int | None = None) -> list[ExamLine]:
    """The newest `most` exams of a patient as lines, newest first; one query."""
    require(person, "see exam", patient)
    rows = (
        Exam.objects.filter(clinic=person.clinic, patient=patient)
        .exclude(state=ExamState.IN_ERROR)
        .annotate(at=Coalesce("first_inflation_at", "booked_for"))
        .order_by("-at", "-pk")
        .values_list(
            "pk",
            "at",
            "exam_type",
            "state",
            "limited",
            "closed_because",
            "measured_at",
            "measured_by__full_name",
            "imported_from",
        )
    )
    zone = patient.clinic.zone
    return [
        ExamLine(
            number,
            at.astimezone(zone).date(),
            _TYPES[kind],
            state,
            "imported" if came_from and state == ExamState.MEASURED else _STATES[state],
            limited,
            because,
            measured_at,
            by or came_from,
        )
        for number, at, kind, state, limited, because, measured_at, by, came_from in rows[:most]
    ]


def booked_and_open(person: Person, until: datetime) -> list[Exam]:
    """Exams booked for before ``until`` and exams under way, the earliest first; one query.

    A booking of somebody who died since stands still: nobody waits for them.
    """
    require(person, "see today")
    open_or_booked = [ExamState.BOOKED, *OPEN_STATES]
    return list(
        _lines(person)
        .filter(state__in=open_or_booked, booked_for__lt=until)
        .exclude(state=ExamState.BOOKED, patient__died_on__isnull=False)
        .order_by("booked_for", "pk")[:200]
    )


def exams_without_report(person: Person) -> list[Exam]:
    """Exams that are measured and not yet reported, the longest waiting first; one query.

    Nobody waits for a report of an exam that came in with a table.
    """
    require(person, "see today")
    waiting = _lines(person).filter(state=ExamState.MEASURED, imported_from="")
    return list(waiting.order_by("measured_at", "pk")[:200])


def open_hand_overs(person: Person, patient: Patient | None = None) -> list[HandOverLine]:
    """Slips of the clinic (or of one patient) that nobody has closed, the most pressing first; one query."""
    require(person, "see today")
    of_patient = {} if patient is None else {"exam__patient": patient}
    slips = (
        HandOver.objects.filter(exam__clinic=person.clinic, closed_at=None, **of_patient)
        .select_related("exam__patient")
        .annotate(tries=Count("attempts"))
        .order_by("due_at", "raised_at", "pk")[:200]
    )
    return [hand_over_line(slip, slip.tries) for slip in slips]


def any_open_hand_over(patient: Patient) -> bool:
    """Whether a slip of a patient waits for somebody to be told; one query."""
    return HandOver.objects.filter(exam__patient=patient, closed_at=None).exists()


def attempts_of(slip: HandOver) -> list[HandOverAttempt]:
    """Tries that reached no one, those of a slip it took over too, the first first; one query."""
    tries = HandOverAttempt.objects.filter(Q(hand_over=slip) | Q(hand_over__taken_over_by=slip))
    return list(tries.select_related("tried_by").order_by("tried_at", "pk"))


def taken_over_by(slip: HandOver) -> list[HandOver]:
    """Milder slips that this one took over, the first first; one query."""
    return list(slip.took_over.select_related("raised_by").order_by("pk"))


def hand_over_line(slip: HandOver, attempts: int) -> HandOverLine:
    """A slip as one line of a list."""
    patient = slip.exam.patient
    return HandOverLine(
        id=slip.pk,
        exam_id=slip.exam_id,
        patient_id=patient.pk,
        patient_name=f"{patient.family_name}, {patient.given_name}",
        side=slip.limb,
        sentence=slip.sentence,
        raised_at=slip.raised_at,
        due_at=slip.due_at,
        closed_at=slip.closed_at,
        in_error=bool(slip.raised_in_error_because),
        value_changed=slip.reads_now,
        attempts=attempts,
        taken_over=slip.taken_over_by_id is not None,
        reads_urgent=slip.reads_now != NOT_URGENT_NOW,
    )


def _lines(person: Person) -> QuerySet[Exam]:
    return Exam.objects.filter(clinic=person.clinic).select_related("patient").only(*LINE)


def of_known(patient: Patient, clinic: Clinic, exam: Exam) -> Exam:
    """The exam with its patient and clinic at hand, which need not be read again."""
    exam.patient, exam.clinic = patient, clinic
    return exam
