"""What the patient page and the limb timeline read. A fixed number of queries, for 1 exam as for 200."""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, tzinfo
from functools import cached_property, partial

from django.utils.safestring import SafeString

from access.people import Person
from access.permissions import require
from exams.followup.queries.waiting import Waiting, nothing_waits_for, waiting_for
from exams.hemodynamics import Criteria, OwnNoise, Side
from exams.identity.queries import Notices, notices_of
from exams.patients.events import OF_THE_PERSON
from exams.patients.models import Caution, FactKind, LimbFact, Patient
from exams.patients.models import Side as RecordedSide
from exams.patients.queries import (
    CautionsInForce,
    cautions_in_force,
    patient_for,
    standing_facts,
    today_in,
)
from exams.traces.queries.pictures import recordings_behind
from exams.visits.agreement.queries import own_noise_of
from exams.visits.history import ExamRecord, limb_history, whole_history
from exams.visits.ladder import Ladder
from exams.visits.queries.criteria import adopted_by
from exams.visits.queries.exams import ExamLine, exam_lines, open_hand_overs
from exams.visits.queries.ladder import ladders_of
from exams.visits.queries.read import read_to_draw
from exams.visits.sheet import HandOverLine
from exams.wounds.queries import open_courses
from reports.timeline.compare import ComparedLimb, compared
from reports.timeline.few import NEWEST, few_of, of_both, year_of
from reports.timeline.figure import dated_words
from reports.timeline.glance import Glance, seen_on
from reports.timeline.happened import events_from, events_of, holding
from reports.timeline.in_error import in_error_of
from reports.timeline.keeping import exams_now, keep_page, kept_at_mark, kept_of, kept_page, wholes_of
from reports.timeline.kept import exams_in, filled, glance_from, years_from
from reports.timeline.lean import exam_rows, measure_rows
from reports.timeline.record import FINDINGS_READ, baseline_words, years_from_gists, years_of
from reports.timeline.recordings import Recordings
from reports.timeline.series import Measure, day
from reports.timeline.summary import Overdue, limb_overdue, overdue, wound_words
from reports.timeline.years import Event, Years

EXAMS_FIRST_SHOWN = 20
NO_FACTS: tuple[dict[RecordedSide, tuple[LimbFact, ...]], tuple[LimbFact, ...]] = (
    dict.fromkeys(RecordedSide, ()),
    (),
)
NO_CAUTIONS = CautionsInForce((), (), ())


@dataclass(frozen=True)
class LimbOnPage:
    """One limb on the patient page: what the exams say, what is so of it today, what must not be done."""

    glance: Glance
    facts: tuple[LimbFact, ...]
    cautions: tuple[Caution, ...]

    @property
    def rows(self) -> SafeString:
        """Its measures as rows of a table."""
        return measure_rows(self.glance.lines)


@dataclass(frozen=True)
class PatientPage:
    """`exams` is the list as shown, newest first; `exams_in_all` counts those it leaves out too."""

    patient: Patient
    age: int
    limbs: tuple[LimbOnPage, LimbOnPage]
    notices: Notices | None
    waiting: Waiting
    cautions_of_the_person: tuple[Caution, ...]
    facts_of_the_person: tuple[LimbFact, ...]
    hand_overs: tuple[HandOverLine, ...]
    exams: tuple[ExamLine, ...]
    exams_in_all: int

    @property
    def exam_rows(self) -> SafeString:
        """The exams of the list as rows of a table."""
        return exam_rows(self.exams)


@dataclass(frozen=True)
class TimelinePage:
    """Both limbs over the years.

    `known_on`: the past day on which the record is shown as it was known; None for today. `newest`: how many
    exams, the newest, have a row of the table; None for all. `listed`: the exams of one `year`, where the
    table is of that. `of_years`: how many exams there are of each year, the newest first. `made_of` is the
    mark of the record it was drawn of, "" where it is nothing to keep.
    """

    patient: Patient
    age: int
    years: Years
    recordings: Recordings
    known_on: date | None
    newest: int | None = None
    year: int | None = None
    listed: Years | None = None
    of_years: tuple[tuple[int, int], ...] = ()
    made_of: str = ""

    @property
    def exams(self) -> int:
        """How many exams have findings, drawn or not."""
        of = self.years.limbs[0].series[Measure.TOE_PRESSURE].counted
        return of.values + of.absences

    @property
    def drawn(self) -> int:
        """How many of them the figures draw."""
        return len(self.years.exams)

    @property
    def rows(self) -> int:
        """How many of them have a row of the table."""
        if self.listed:
            return len(self.listed.exams)
        return min(self.newest or self.exams, self.exams)

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
class DrawnPage:
    """The timeline of today as somebody had it drawn before; `html` names no recordings."""

    patient: Patient
    age: int
    html: str
    recordings: Recordings
    notices: Notices | None
    measured: bool
    known_on: None = None


@dataclass(frozen=True)
class ComparisonPage:
    """Two of the measured exams side by side.

    `exams`: number and words of those to choose from, newest first; `chosen` is None where there are not two.
    `read` takes some of them out of the record, the older first.
    """

    patient: Patient
    age: int
    known_on: date | None
    exams: tuple[tuple[int, str], ...]
    chosen: tuple[int, int] | None
    read: Callable[[Collection[int]], Sequence[ExamRecord]]
    events: Mapping[Side, tuple[Event, ...]]
    criteria: Criteria
    own: tuple[OwnNoise, ...]

    @property
    def then(self) -> str:
        """What a link adds to lead to the same day of the record."""
        return _then(self.known_on)

    @property
    def newest_two(self) -> dict[str, int]:
        """What the two lists stand on before anyone chose."""
        return dict(zip(("earlier", "later"), self.chosen, strict=True)) if self.chosen else {}

    @cached_property
    def two(self) -> tuple[ExamRecord, ExamRecord] | None:
        """The two, the older first."""
        if self.chosen is None:
            return None
        earlier, later = self.read(self.chosen)
        return earlier, later

    @property
    def limbs(self) -> tuple[ComparedLimb, ...]:
        if self.two is None:
            return ()
        return compared(*self.two, self.events, self.criteria, self.patient.clinic.zone, self.own)

    def of(self, one: int, other: int) -> "ComparisonPage":
        """The same with two chosen exams."""
        return replace(self, chosen=(one, other))


@dataclass(frozen=True)
class LimbSummary:
    """One limb in ten seconds. `ladder` is None where nothing was measured."""

    glance: Glance
    changed: str
    baseline: str
    wounds: tuple[str, ...]
    events: tuple[str, ...]
    ladder: Ladder | None
    overdue: tuple[str, ...]


@dataclass(frozen=True)
class SummaryPage:
    """`events` and `overdue` are what concerns the whole person."""

    patient: Patient
    age: int
    limbs: tuple[LimbSummary, LimbSummary]
    notices: Notices | None
    events: tuple[str, ...]
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
    zone, today = patient.clinic.zone, today_in(patient.clinic)
    kept = kept_of(patient, adopted_by(patient.clinic), "glance")
    glance = glance_from(kept, zone)
    exams = exam_lines(person, patient, None if all_exams else EXAMS_FIRST_SHOWN)
    facts, of_the_person = standing_facts(patient) if kept["facts"] else NO_FACTS
    events = events_from(facts, of_the_person)
    cautions = cautions_in_force(patient, today) if kept["cautions"] else NO_CAUTIONS
    slips = tuple(open_hand_overs(person, patient)) if kept["hand_overs"] else ()
    recordings = recordings_behind(person, patient, glance.exams) if kept["recordings"] else {}
    right, left = (
        LimbOnPage(
            seen_on(
                stand,
                today,
                recordings=recordings,
                to_be_told=any(slip.side == stand.side for slip in slips),
                events=events[stand.side],
            ),
            holding(facts[RecordedSide(stand.side)], today),
            cautions.of(stand.side),
        )
        for stand in glance.stands
    )
    return PatientPage(
        patient=patient,
        age=_age(patient.birth_date, today),
        limbs=(right, left),
        notices=notices_of(patient) if kept["notices"] else None,
        waiting=waiting_for(person, patient) if kept["waiting"] else nothing_waits_for(patient),
        cautions_of_the_person=cautions.whole_person,
        facts_of_the_person=holding(of_the_person, today),
        hand_overs=slips,
        exams=tuple(exams),
        exams_in_all=kept["exams"],
    )


def drawn_page(person: Person, patient_id: int) -> DrawnPage | None:
    """The timeline of today as it is kept; None where it must be drawn.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    require(person, "see exam", patient)
    today = today_in(patient.clinic)
    found = kept_page(patient, adopted_by(patient.clinic), today)
    if found is None:
        return None
    html, glance = found
    return DrawnPage(
        patient,
        _age(patient.birth_date, today),
        html,
        recordings_behind(person, patient, glance["listed"]) if glance["recordings"] else {},
        notices_of(patient) if glance["notices"] else None,
        measured=bool(glance["listed"]),
    )


def keep_drawn(shown: TimelinePage, html: str) -> None:
    """Keep the timeline of today as it was just drawn, for whoever looks next."""
    keep_page(shown.patient, shown.made_of, html, shown.years.today)


def timeline_page(
    person: Person,
    patient_id: int,
    known_on: date | None = None,
    *,
    all_exams: bool = True,
    year: int | None = None,
) -> TimelinePage:
    """Both limbs over the years, as the record stands or as it was known at the end of a past day.

    Without `all_exams`, and of today alone, only a few of very many exams are drawn, and the newest listed,
    or those of a `year`.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    require(person, "see exam", patient)
    today = today_in(patient.clinic)
    if known_on:
        return _as_known(person, patient, known_on)
    criteria = adopted_by(patient.clinic)
    few_kept = not all_exams and year is None
    # Before all else that is read: what an act changes meanwhile is then not kept as if it were of this mark.
    made_of, kept = kept_at_mark(patient, criteria, "years") if few_kept else ("", {})
    events = events_from(*standing_facts(patient))
    in_error = in_error_of(patient, None)
    listed, newest = None, None
    if not few_kept:
        gists, wholes = exams_now(patient, criteria)
        whole = years_from_gists(gists, events, criteria, today, own=own_noise_of(patient.clinic))
        of_years = Counter(gist.at.year for gist in gists if gist.measured)
        years = whole if year is None else of_both(whole, few_of)
        if year is not None:
            of_that = tuple(one for one in in_error if one.at.year == year)
            listed = replace(of_both(whole, partial(year_of, year)), in_error=of_that)
            listed = filled(listed, wholes(listed.exams))
        years = filled(years, wholes(years.exams))
    else:
        years = years_from(kept, wholes_of(patient, exams_in(kept)), events, criteria, today)
        of_years, newest = Counter(dict(kept["of_years"])), NEWEST
    return TimelinePage(
        patient,
        _age(patient.birth_date, today),
        replace(years, in_error=in_error),
        recordings_behind(person, patient, (listed or years).exams),
        None,
        newest,
        year,
        listed,
        tuple(sorted(of_years.items(), reverse=True)),
        made_of,
    )


def _as_known(person: Person, patient: Patient, known_on: date) -> TimelinePage:
    """Read from the rows of the record: what was known on a past day is not kept."""
    zone = patient.clinic.zone
    known_at = end_of(known_on, zone)
    records = limb_history(person, patient, measures=FINDINGS_READ, known_at=known_at)
    criteria, own = adopted_by(patient.clinic, known_at), own_noise_of(patient.clinic, known_at)
    years = years_of(records, events_of(patient, known_at), criteria, zone, known_on, own=own)
    return TimelinePage(
        patient,
        _age(patient.birth_date, known_on),
        replace(years, in_error=in_error_of(patient, known_at)),
        recordings_behind(person, patient, None),
        known_on,
    )


def comparison_page(person: Person, patient_id: int, known_on: date | None = None) -> ComparisonPage:
    """The exams of a patient, the newest two of them side by side; of today no other exam is read.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    require(person, "see exam", patient)
    known_at = end_of(known_on, patient.clinic.zone) if known_on else None
    criteria = adopted_by(patient.clinic, known_at)
    if known_at:
        records = limb_history(person, patient, measures=FINDINGS_READ, known_at=known_at)
        by_number = {one.exam_id: one for one in records if one.right.readings or one.left.readings}
        exams = [(one.exam_id, f"{day(one.on)}, {one.type_label}") for one in by_number.values()]

        def read(some: Collection[int]) -> list[ExamRecord]:
            return [one for one in by_number.values() if one.exam_id in some]
    else:
        gists, _ = exams_now(patient, criteria)
        types = {line.exam_id: line.type_label for line in exam_lines(person, patient)}
        exams = [
            (one.exam_id, f"{day(one.at)}, {types.get(one.exam_id, '')}") for one in gists if one.measured
        ]

        def read(some: Collection[int]) -> list[ExamRecord]:
            return whole_history(patient, measures=FINDINGS_READ, only=some)

    return ComparisonPage(
        patient,
        _age(patient.birth_date, known_on or today_in(patient.clinic)),
        known_on,
        tuple(reversed(exams)),
        (exams[-2][0], exams[-1][0]) if len(exams) > 1 else None,
        read,
        events_of(patient, known_at),
        criteria,
        own_noise_of(patient.clinic, known_at),
    )


def summary_page(person: Person, patient_id: int) -> SummaryPage:
    """Each limb in ten seconds.

    Raises
    ------
    NotHere
        If the clinic acted in holds no such patient.
    """
    patient = patient_for(person, patient_id)
    require(person, "see exam", patient)
    today = today_in(patient.clinic)
    kept = kept_of(patient, adopted_by(patient.clinic), "glance")
    found = glance_from(kept, patient.clinic.zone)
    facts, of_the_person = standing_facts(patient)
    events = events_from(facts, of_the_person)
    wounded = any(one.kind == FactKind.OPEN_WOUND for some in facts.values() for one in holding(some, today))
    courses = open_courses(person, patient, newest=2) if wounded else ()
    slips = tuple(open_hand_overs(person, patient)) if kept["hand_overs"] else ()
    glances = [
        seen_on(
            stand,
            today,
            recordings={},
            to_be_told=any(slip.side == stand.side for slip in slips),
            events=events[stand.side],
        )
        for stand in found.stands
    ]
    drawn = _ladders(patient, {one.record.exam_id for one in glances if one.record})
    right, left = (
        LimbSummary(
            glance,
            changed,
            baseline_words(events[stand.side], stand.side, today),
            tuple(wound_words(one) for one in courses if one.side == stand.side),
            tuple(dated_words(event) for event in events[stand.side] if event.kind not in OF_THE_PERSON),
            drawn[glance.record.exam_id][stand.side is Side.LEFT] if glance.record else None,
            limb_overdue(glance),
        )
        for stand, glance, changed in zip(found.stands, glances, found.changed, strict=True)
    )
    return SummaryPage(
        patient=patient,
        age=_age(patient.birth_date, today),
        limbs=(right, left),
        notices=notices_of(patient) if kept["notices"] else None,
        # They stand under both limbs alike, because both limbs' pressures are read with them.
        events=tuple(dated_words(event) for event in events[Side.RIGHT] if event.kind in OF_THE_PERSON),
        hand_overs=slips,
        overdue=overdue(found.unreported, cautions_in_force(patient, today).all, today),
    )


def _ladders(patient: Patient, exam_ids: Collection[int]) -> dict[int, tuple[Ladder, Ladder]]:
    """The ladders of one or two exams of one patient; as many queries for one as for two."""
    return {chart.exam.pk: ladders_of(chart, found) for chart, found in read_to_draw(patient, exam_ids)}


def _then(known_on: date | None) -> str:
    return f"?known_on={known_on.isoformat()}" if known_on else ""


def end_of(day: date, zone: tzinfo) -> datetime:
    """The last moment of a day in the clinic's zone."""
    return datetime.combine(day, time.max, tzinfo=zone)


def _age(born: date, today: date) -> int:
    return today.year - born.year - ((today.month, today.day) < (born.month, born.day))
