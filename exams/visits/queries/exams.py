"""One exam, or a list of them, for a person of its clinic."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, DateTimeField, IntegerField, Q, QuerySet
from django.db.models.functions import Coalesce

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared, stored
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState, ExamType, HandOver, HandOverAttempt, Reading
from exams.visits.plan import OPEN_STATES
from exams.visits.queries.read import exam_of
from exams.visits.sheet import HandOverLine
from exams.visits.wording import NOT_URGENT_NOW

# What a line of a list says of an exam and its patient.
LINE = (
    "id",
    "patient_id",
    "exam_type",
    "state",
    "limited",
    "indication",
    "booked_for",
    "measured_at",
    "patient__family_name",
    "patient__given_name",
)
_CLINIC, _PATIENT, _EXAM = (Given(name, IntegerField()) for name in ("clinic", "patient", "exam"))
_TYPES: dict[str, str] = {kind.value: str(kind.label) for kind in ExamType}
_STATES: dict[str, str] = {state.value: str(state.label) for state in ExamState}


def exam_for(person: Person, exam_id: int) -> Exam:
    """The exam, with its clinic and patient; NotHere (a 404) for a number of another clinic or of nobody."""
    require(person, "see exam")
    exam = exam_of(person.clinic, exam_id) if person.clinic else None
    if exam is None:
        raise NotHere("no such exam in this clinic")
    return exam


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


def _line(*more: Any, **which: Any) -> QuerySet[Exam]:
    return Exam.objects.filter(*more, clinic_id=_CLINIC, **which)


_booked_and_open = Prepared(
    lambda: _line(
        # A booking of somebody who died since stands still: nobody waits for them.
        Q(state__in=OPEN_STATES) | Q(patient__died_on=None),
        state__in=[ExamState.BOOKED, *OPEN_STATES],
        booked_for__lt=Given("until", DateTimeField()),
    ).order_by("booked_for", "pk")[:200],
    *LINE,
)
_without_report = Prepared(
    lambda: _line(state=ExamState.MEASURED, imported_from="").order_by("measured_at", "pk")[:200], *LINE
)


def booked_and_open(person: Person, until: datetime) -> list[Exam]:
    """Exams booked for before ``until`` and exams under way, the earliest first; one query."""
    require(person, "see today")
    return (
        [] if person.clinic is None else _exams(_booked_and_open.rows(clinic=person.clinic.pk, until=until))
    )


def exams_without_report(person: Person) -> list[Exam]:
    """Exams that are measured and not yet reported, the longest waiting first; one query.

    Nobody waits for a report of an exam that came in with a table.
    """
    require(person, "see today")
    return [] if person.clinic is None else _exams(_without_report.rows(clinic=person.clinic.pk))


def _exams(rows: Sequence[Sequence[Any]]) -> list[Exam]:
    """What a line of a list says of each exam and its patient."""
    return [
        stored(
            Exam,
            zip(LINE[:-2], row[:-2], strict=True),
            patient=stored(Patient, {"id": row[1], "family_name": row[-2], "given_name": row[-1]}),
        )
        for row in rows
    ]


_SLIP = (
    "pk",
    "exam_id",
    "exam__patient_id",
    "exam__patient__family_name",
    "exam__patient__given_name",
    "limb",
    "sentence",
    "raised_at",
    "due_at",
    "closed_at",
    "raised_in_error_because",
    "reads_now",
    "taken_over_by_id",
    "tries",
)


def _slips(**which: Any) -> QuerySet[HandOver]:
    return HandOver.objects.filter(**which).annotate(tries=Count("attempts"))


def _pressing(**which: Any) -> QuerySet[HandOver]:
    return _slips(closed_at=None, **which).order_by("due_at", "raised_at", "pk")[:200]


_open_of_clinic = Prepared(lambda: _pressing(exam__clinic_id=_CLINIC), *_SLIP)
_open_of_patient = Prepared(lambda: _pressing(exam__clinic_id=_CLINIC, exam__patient_id=_PATIENT), *_SLIP)
_of_exam = Prepared(lambda: _slips(exam_id=_EXAM).order_by("-limb", "pk"), *_SLIP)


def open_hand_overs(person: Person, patient: Patient | None = None) -> list[HandOverLine]:
    """Slips of the clinic (or of one patient) that nobody has closed, the most pressing first; one query."""
    require(person, "see today")
    if person.clinic is None:
        return []
    if patient is None:
        rows = _open_of_clinic.rows(clinic=person.clinic.pk)
    else:
        rows = _open_of_patient.rows(clinic=person.clinic.pk, patient=patient.pk)
    return [_line_of(row) for row in rows]


def hand_overs_of(exam: Exam) -> tuple[HandOverLine, ...]:
    """Every slip of an exam, RIGHT first, closed ones too; one query."""
    return tuple(_line_of(row) for row in _of_exam.rows(exam=exam.pk))


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


def _line_of(row: Sequence[Any]) -> HandOverLine:
    slip = dict(zip(_SLIP, row, strict=True))
    return HandOverLine(
        id=slip["pk"],
        exam_id=slip["exam_id"],
        patient_id=slip["exam__patient_id"],
        patient_name=f"{slip['exam__patient__family_name']}, {slip['exam__patient__given_name']}",
        side=slip["limb"],
        sentence=slip["sentence"],
        raised_at=slip["raised_at"],
        due_at=slip["due_at"],
        closed_at=slip["closed_at"],
        in_error=bool(slip["raised_in_error_because"]),
        value_changed=slip["reads_now"],
        attempts=slip["tries"],
        taken_over=slip["taken_over_by_id"] is not None,
        reads_urgent=slip["reads_now"] != NOT_URGENT_NOW,
    )


def of_known(patient: Patient, clinic: Clinic, exam: Exam) -> Exam:
    """The exam with its patient and clinic at hand, which need not be read again."""
    exam.patient, exam.clinic = patient, clinic
    return exam
