"""What the patient page and the limb timeline read. A fixed number of queries, for 1 exam as for 200."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from access.people import Person
from exams.hemodynamics import Side
from exams.patients.models import Caution, LimbFact, Patient
from exams.patients.models import Side as RecordedSide
from exams.patients.queries import (
    cautions_in_force,
    limb_fact_history,
    patient_for,
    person_fact_history,
    today_in,
)
from exams.traces.queries.pictures import recordings_behind
from exams.visits.history import ExamRecord, limb_history
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.exams import open_hand_overs
from exams.visits.sheet import HandOverLine
from reports.timeline.glance import Glance, glance_at
from reports.timeline.record import FINDINGS_READ, years_of
from reports.timeline.recordings import Recordings
from reports.timeline.years import Event, Years

EXAMS_FIRST_SHOWN = 20


@dataclass(frozen=True)
class LimbOnPage:
    """One limb on the patient page: what the exams say, what is so of it today, what must not be done."""

    glance: Glance
    facts: tuple[LimbFact, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class PatientPage:
    """`exams` is the list as shown, newest first; `exams_in_all` counts those it leaves out too."""

    patient: Patient
    age: int
    limbs: tuple[LimbOnPage, LimbOnPage]
    cautions_of_the_person: tuple[Caution, ...]
    hand_overs: tuple[HandOverLine, ...]
    exams: tuple[ExamRecord, ...]
    exams_in_all: int


@dataclass(frozen=True)
class TimelinePage:
    patient: Patient
    age: int
    years: Years
    recordings: Recordings

    @property
    def measured(self) -> bool:
        """Whether any exam has findings."""
        return any(series.seen for limb in self.years.limbs for series in limb.series.values())


def patient_page(person: Person, patient_id: int, *, all_exams: bool) -> PatientPage:
    """Both limbs at a glance and the exams of one patient.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    today = today_in(patient.clinic)
    records = limb_history(person, patient, measures=FINDINGS_READ)
    facts = limb_fact_history(patient)
    cautions = cautions_in_force(patient, today)
    years = _years(patient, records, _events(facts, person_fact_history(patient)), today)
    slips = tuple(open_hand_overs(person, patient))
    recordings = recordings_behind(person, patient)
    right, left = (
        LimbOnPage(
            glance_at(
                records,
                side,
                limb,
                today,
                recordings=recordings,
                to_be_told=any(slip.side == side for slip in slips),
            ),
            tuple(fact for fact in facts[RecordedSide(side)] if fact.stands and fact.holds_on(today)),
            cautions.of(side),
        )
        for side, limb in zip((Side.RIGHT, Side.LEFT), years.limbs, strict=True)
    )
    newest_first = sorted(records, key=lambda record: (record.at, record.exam_id), reverse=True)
    return PatientPage(
        patient=patient,
        age=_age(patient.birth_date, today),
        limbs=(right, left),
        cautions_of_the_person=cautions.whole_person,
        hand_overs=slips,
        exams=tuple(newest_first if all_exams else newest_first[:EXAMS_FIRST_SHOWN]),
        exams_in_all=len(records),
    )


def timeline_page(person: Person, patient_id: int) -> TimelinePage:
    """Both limbs over the years.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    today = today_in(patient.clinic)
    return TimelinePage(
        patient,
        _age(patient.birth_date, today),
        years_for(person, patient),
        recordings_behind(person, patient),
    )


def years_for(person: Person, patient: Patient) -> Years:
    """The four series of each limb, with breaks, limits and events: what page and print draw from."""
    records = limb_history(person, patient, measures=FINDINGS_READ)
    return _years(patient, records, events_of(patient), today_in(patient.clinic))


def events_of(patient: Patient) -> dict[Side, tuple[Event, ...]]:
    """What happened to each limb and still stands, what is of the whole person under both; two queries."""
    return _events(limb_fact_history(patient), person_fact_history(patient))


def _events(
    facts: dict[RecordedSide, tuple[LimbFact, ...]], of_the_person: Sequence[LimbFact]
) -> dict[Side, tuple[Event, ...]]:
    return {
        side: tuple(_event(fact) for fact in (*facts[RecordedSide(side)], *of_the_person) if fact.stands)
        for side in Side
    }


def _years(
    patient: Patient,
    records: Sequence[ExamRecord],
    events: dict[Side, tuple[Event, ...]],
    today: date,
) -> Years:
    return years_of(records, events, adopted_by(patient.clinic), patient.clinic.zone, today)


def _event(fact: LimbFact) -> Event:
    once = not fact.has_end
    return Event(
        fact.kind,
        fact.words,
        fact.dated.earliest,
        fact.dated.latest if once else fact.ended_on,
        fact.note,
        dated=fact.dated.words,
        once=once,
        core=fact.event,
    )


def _age(born: date, today: date) -> int:
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))
