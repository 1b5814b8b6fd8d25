"""What the patient page and the limb timeline read. A fixed number of queries, for 1 exam as for 200."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, tzinfo

from access.people import Person
from exams.hemodynamics import Criteria, Side
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
from exams.visits.ladder import Ladder
from exams.visits.models import Exam
from exams.visits.queries.chart import charts_of
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.exams import of_known, open_hand_overs
from exams.visits.queries.ladder import ladders_of
from exams.visits.queries.results import stored_interpretations
from exams.visits.sheet import HandOverLine
from reports.timeline.compare import ComparedLimb, compared
from reports.timeline.figure import dated_words
from reports.timeline.glance import Glance, glance_at
from reports.timeline.in_error import in_error_of
from reports.timeline.record import FINDINGS_READ, years_of
from reports.timeline.recordings import Recordings
from reports.timeline.series import day
from reports.timeline.summary import Overdue, changed_of, limb_overdue, overdue
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
    """`known_on`: the past day on which the record is shown as it was known; None for today."""

    patient: Patient
    age: int
    years: Years
    recordings: Recordings
    known_on: date | None

    @property
    def measured(self) -> bool:
        """Whether any exam has findings."""
        return any(series.seen for limb in self.years.limbs for series in limb.series.values())

    @property
    def then(self) -> str:
        """What a link adds to lead to the same day of the record."""
        return _then(self.known_on)

    @property
    def heading(self) -> tuple[str, ...]:
        """Whose figure it is and of which day, for a file that leaves the page."""
        born = f"{self.patient.full_name}, born {day(self.patient.birth_date)}"
        known = f"As known on {day(self.known_on)}" if self.known_on else f"Made {day(self.years.today)}"
        return (born, f"{known}. {self.years.criteria}")


@dataclass(frozen=True)
class ComparisonPage:
    """Two of the measured exams side by side; `two` is None where there are not two."""

    patient: Patient
    age: int
    known_on: date | None
    records: tuple[ExamRecord, ...]
    two: tuple[ExamRecord, ExamRecord] | None
    events: Mapping[Side, tuple[Event, ...]]
    criteria: Criteria

    @property
    def then(self) -> str:
        """What a link adds to lead to the same day of the record."""
        return _then(self.known_on)

    @property
    def exams(self) -> tuple[tuple[int, str], ...]:
        """Number and words of the exams to choose from, newest first."""
        return tuple((one.exam_id, f"{day(one.on)}, {one.type_label}") for one in reversed(self.records))

    @property
    def newest_two(self) -> dict[str, int]:
        """What the two lists stand on before anyone chose."""
        return {"earlier": self.two[0].exam_id, "later": self.two[1].exam_id} if self.two else {}

    @property
    def limbs(self) -> tuple[ComparedLimb, ...]:
        if self.two is None:
            return ()
        return compared(*self.two, self.events, self.criteria, self.patient.clinic.zone)

    def of(self, one: int, other: int) -> "ComparisonPage":
        """The same with two chosen exams, the older first."""
        chosen = [record for record in self.records if record.exam_id in (one, other)]
        return replace(self, two=(chosen[0], chosen[1]))


@dataclass(frozen=True)
class LimbSummary:
    """One limb in ten seconds. `ladder` is None where nothing was measured."""

    glance: Glance
    changed: str
    baseline: str
    events: tuple[str, ...]
    ladder: Ladder | None
    overdue: tuple[str, ...]


@dataclass(frozen=True)
class SummaryPage:
    """`overdue` is what concerns the whole person."""

    patient: Patient
    age: int
    limbs: tuple[LimbSummary, LimbSummary]
    hand_overs: tuple[HandOverLine, ...]
    overdue: tuple[Overdue, ...]


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


def timeline_page(person: Person, patient_id: int, known_on: date | None = None) -> TimelinePage:
    """Both limbs over the years, as the record stands or as it was known at the end of a past day.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    today = today_in(patient.clinic)
    known_at = end_of(known_on, patient.clinic.zone) if known_on else None
    records = limb_history(person, patient, measures=FINDINGS_READ, known_at=known_at)
    years = _years(patient, records, events_of(patient, known_at), known_on or today, known_at)
    return TimelinePage(
        patient,
        _age(patient.birth_date, known_on or today),
        replace(years, in_error=in_error_of(patient, known_at)),
        recordings_behind(person, patient),
        known_on,
    )


def comparison_page(person: Person, patient_id: int, known_on: date | None = None) -> ComparisonPage:
    """The exams of a patient, the newest two of them side by side.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    known_at = end_of(known_on, patient.clinic.zone) if known_on else None
    records = limb_history(person, patient, measures=FINDINGS_READ, known_at=known_at)
    measured = [record for record in records if record.right.readings or record.left.readings]
    return ComparisonPage(
        patient,
        _age(patient.birth_date, known_on or today_in(patient.clinic)),
        known_on,
        tuple(measured),
        (measured[-2], measured[-1]) if len(measured) > 1 else None,
        events_of(patient, known_at),
        adopted_by(patient.clinic, known_at),
    )


def summary_page(person: Person, patient_id: int) -> SummaryPage:
    """Each limb in ten seconds.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    today = today_in(patient.clinic)
    records = limb_history(person, patient, measures=FINDINGS_READ)
    events = events_of(patient)
    years = _years(patient, records, events, today)
    slips = tuple(open_hand_overs(person, patient))
    glances = {
        side: glance_at(
            records, side, limb, today, recordings={}, to_be_told=any(slip.side == side for slip in slips)
        )
        for side, limb in zip((Side.RIGHT, Side.LEFT), years.limbs, strict=True)
    }
    drawn = _ladders(patient, {one.record.exam_id for one in glances.values() if one.record})
    right, left = (
        LimbSummary(
            glance,
            changed_of(limb),
            limb.baseline,
            tuple(dated_words(event) for event in limb.events),
            drawn[glance.record.exam_id][side is Side.LEFT] if glance.record else None,
            limb_overdue(glance),
        )
        for (side, glance), limb in zip(glances.items(), years.limbs, strict=True)
    )
    cautions = cautions_in_force(patient, today).all
    return SummaryPage(
        patient, _age(patient.birth_date, today), (right, left), slips, overdue(records, cautions, today)
    )


def _ladders(patient: Patient, exam_ids: Collection[int]) -> dict[int, tuple[Ladder, Ladder]]:
    """The ladders of a few exams of one patient; as many queries for one as for two."""
    rows = Exam.objects.filter(patient=patient, pk__in=exam_ids)
    exams = [of_known(patient, patient.clinic, exam) for exam in rows]
    found = stored_interpretations(exams)
    return {chart.exam.pk: ladders_of(chart, found[chart.exam.pk]) for chart in charts_of(exams)}


def _then(known_on: date | None) -> str:
    return f"?known_on={known_on.isoformat()}" if known_on else ""


def end_of(day: date, zone: tzinfo) -> datetime:
    """The last moment of a day in the clinic's zone."""
    return datetime.combine(day, time.max, tzinfo=zone)


def events_of(patient: Patient, known_at: datetime | None = None) -> dict[Side, tuple[Event, ...]]:
    """What happened to each limb and stands, now or as known at a time; two queries.

    What is of the whole person is under both limbs.
    """
    return _events(limb_fact_history(patient), person_fact_history(patient), known_at)


def _events(
    facts: dict[RecordedSide, tuple[LimbFact, ...]],
    of_the_person: Sequence[LimbFact],
    known_at: datetime | None = None,
) -> dict[Side, tuple[Event, ...]]:
    return {
        side: tuple(
            _event(fact, known_at)
            for fact in (*facts[RecordedSide(side)], *of_the_person)
            if _stood(fact, known_at)
        )
        for side in Side
    }


def _stood(fact: LimbFact, at: datetime | None) -> bool:
    """Whether a fact stands, or stood at a time: entered, and neither withdrawn nor replaced by then."""
    if at is None:
        return fact.stands
    newer = getattr(fact, "replaced_by", None)
    return (
        fact.entered_at <= at
        and (fact.withdrawn_at is None or fact.withdrawn_at > at)
        and (newer is None or newer.entered_at > at)
    )


def _years(
    patient: Patient,
    records: Sequence[ExamRecord],
    events: dict[Side, tuple[Event, ...]],
    today: date,
    known_at: datetime | None = None,
) -> Years:
    return years_of(records, events, adopted_by(patient.clinic, known_at), patient.clinic.zone, today)


def _event(fact: LimbFact, known_at: datetime | None) -> Event:
    once = not fact.has_end
    core, ended = fact.event, fact.ended_on
    # When an end was entered is not kept: it cannot have been known before it came.
    if ended and known_at and ended > known_at.date():
        ended = None
        core = replace(core, until=None) if core else None
    return Event(
        fact.kind,
        fact.words,
        fact.dated.earliest,
        fact.dated.latest if once else ended,
        fact.note,
        dated=fact.dated.words,
        once=once,
        core=core,
    )


def _age(born: date, today: date) -> int:
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))
