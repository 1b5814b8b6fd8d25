"""What programs read of exams: lists by filter, a part at a time, and one reading or exam to be changed."""

from dataclasses import dataclass
from datetime import date

from access.models import Clinic
from access.paging import Asked, Part, part_of, within_days
from access.people import Person
from access.permissions import NotHere, require
from exams.hemodynamics import Interpretation, conclusion_draft
from exams.visits.models import Exam, ExamState, HandOver, Preparation, Reading, Result
from exams.visits.queries.exams import exam_for
from exams.visits.queries.results import stored_interpretation


def exams_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    state: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[Exam]:
    """The clinic's exams, those booked for days from since to until; none that was entered in error unless
    that is asked for. One query."""
    require(person, "see exam")
    rows = Exam.objects.filter(within_days("booked_for", _clinic(person), since, until), clinic=person.clinic)
    if patient is not None:
        rows = rows.filter(patient_id=patient)
    rows = rows.filter(state=state) if state else rows.exclude(state=ExamState.IN_ERROR)
    return part_of(rows, asked, filled=lambda found: found.select_related("measured_by"))


def readings_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    exam: int | None = None,
    side: str = "",
    site: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[Reading]:
    """Readings that stand, of exams that were not entered in error, typed from since to until. One query."""
    require(person, "see exam")
    rows = Reading.objects.filter(
        within_days("typed_at", _clinic(person), since, until),
        exam__clinic=person.clinic,
        replaced_by=None,
        withdrawn=False,
    ).exclude(exam__state=ExamState.IN_ERROR)
    for name, value in (("exam__patient_id", patient), ("exam_id", exam)):
        if value is not None:
            rows = rows.filter(**{name: value})
    for name, words in (("side", side), ("site", site)):
        if words:
            rows = rows.filter(**{name: words})
    return part_of(
        rows, asked, filled=lambda found: found.select_related("exam", "entered_by", "replaced_by")
    )


def results_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    exam: int | None = None,
    limb: str = "",
    measure: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[Result]:
    """Findings of exams booked from since to until. They get new numbers when an exam is read again."""
    require(person, "see exam")
    rows = Result.objects.filter(
        within_days("exam__booked_for", _clinic(person), since, until), exam__clinic=person.clinic
    ).exclude(exam__state=ExamState.IN_ERROR)
    for name, value in (("exam__patient_id", patient), ("exam_id", exam)):
        if value is not None:
            rows = rows.filter(**{name: value})
    for name, words in (("limb", limb), ("measure", measure)):
        if words:
            rows = rows.filter(**{name: words})
    return part_of(rows, asked, filled=lambda found: found.select_related("exam"))


def hand_overs_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    exam: int | None = None,
    waiting: bool = False,
    since: date | None = None,
    until: date | None = None,
) -> Part[HandOver]:
    """Slips raised from since to until, of exams that were not entered in error. One query."""
    require(person, "see exam")
    rows = HandOver.objects.filter(
        within_days("raised_at", _clinic(person), since, until), exam__clinic=person.clinic
    ).exclude(exam__state=ExamState.IN_ERROR)
    for name, value in (("exam__patient_id", patient), ("exam_id", exam)):
        if value is not None:
            rows = rows.filter(**{name: value})
    if waiting:
        rows = rows.filter(closed_at=None)
    return part_of(rows, asked, filled=lambda found: found.select_related("exam", "told_by"))


def any_reading_for(person: Person, reading_id: int) -> Reading:
    """The reading of that number, also one that was replaced or withdrawn; NotHere in another clinic."""
    require(person, "see exam")
    found = (
        Reading.objects.filter(exam__clinic=person.clinic, pk=reading_id)
        .select_related("exam__clinic", "exam__patient", "entered_by", "replaced_by")
        .first()
    )
    if found is None:
        raise NotHere("no such reading in this clinic")
    return found


def next_attempt(exam: Exam, side: str, site: str) -> int:
    """The number of the attempt after the last at a place of an exam."""
    taken = exam.readings.filter(side=side, site=site).values_list("attempt", flat=True)
    return max(taken, default=0) + 1


def conditions_of(exam: Exam) -> dict[str, str]:
    """The conditions of an exam as they stand, by their names; one query."""
    rows = Preparation.objects.filter(exam=exam, replaced_by=None).order_by("item")
    return {row.item: row.value for row in rows if row.value}


def condition_seen(exam: Exam, item: str) -> int:
    """The number of the row that stands for a condition, 0 for none."""
    standing = Preparation.objects.filter(exam=exam, item=item).order_by("-pk")
    return standing.values_list("pk", flat=True).first() or 0


@dataclass(frozen=True)
class Findings:
    """All findings of an exam as they are stored, and the conclusion drafted from them."""

    exam: Exam
    found: Interpretation
    conclusion: str


def findings_of(person: Person, exam_id: int) -> Findings:
    exam = exam_for(person, exam_id)
    found = stored_interpretation(exam)
    return Findings(exam, found, conclusion_draft(found) if found.findings else "")


def _clinic(person: Person) -> Clinic:
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    return person.clinic
