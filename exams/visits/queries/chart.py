"""Everything stored of an exam, read once, and what follows from it without asking the database again."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property, lru_cache, partial
from typing import TypeVar

from access.models import User
from exams.hemodynamics import (
    Conditions,
    Context,
    LimbEvent,
    LimbFacts,
    LimbStanding,
    MeasuredExam,
    MeasuredLimb,
    Side,
    SiteReading,
    limb_standing,
)
from exams.hemodynamics import Outcome as CoreOutcome
from exams.hemodynamics import Site as CoreSite
from exams.patients.models import Caution, FactKind, LimbFact
from exams.visits.models import Exam, ExamState, Outcome, Preparation, PreparationItem, Reading, Site
from exams.visits.plan import (
    ANKLE_SITES,
    SIDES,
    TOE_SITES,
    Place,
    kind_of_site,
    planned_sites,
)
from exams.visits.wording import REGION_SITES, SIDE_WORDS, reason_words

Row = TypeVar("Row", Reading, Preparation)
# A cuff was inflated for these, so they tell when the first inflation was.
INFLATED = (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE, Outcome.NO_SIGNAL)
FLOW = (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE)


@dataclass(frozen=True)
class Chart:
    """One exam with its rows, as they stood when it was read.

    `on` is the day in the clinic's zone. `readings` and `preparations` hold every row, oldest first.
    `cautions` are those in force on the day; `facts` those of the limbs while this exam's pressures were the
    newest known (`facts_of`). `flows` gives the exams and sides at whose ankle flow was found, and is asked
    only where the exam is read again; `earlier` are the exams before this one.
    """

    exam: Exam
    on: date
    readings: tuple[Reading, ...]
    preparations: tuple[Preparation, ...]
    cautions: tuple[Caution, ...]
    facts: tuple[LimbFact, ...]
    flows: Callable[[], Set[tuple[int, str]]]
    earlier: frozenset[int]

    @cached_property
    def flow_before(self) -> frozenset[str]:
        """Sides at whose ankle an earlier exam found flow."""
        return frozenset(side for pk, side in self.flows() if pk in self.earlier)

    @cached_property
    def newest(self) -> dict[Place, Reading]:
        """The newest row of every place, also where it says that the value was withdrawn."""
        return {Place(row.side, row.site, row.attempt): row for row in self.readings}

    @cached_property
    def standing(self) -> dict[Place, Reading]:
        """What stands at every place: withdrawn values left out."""
        return {place: row for place, row in self.newest.items() if not row.withdrawn}

    @cached_property
    def conditions(self) -> dict[str, Preparation]:
        """The newest row of every condition that is not emptied."""
        newest = {row.item: row for row in self.preparations}
        return {item: row for item, row in newest.items() if row.value}

    def condition(self, item: str) -> str:
        row = self.conditions.get(item)
        return row.value if row else ""

    def number(self, item: str) -> Decimal | None:
        value = self.condition(item)
        return Decimal(value) if value else None

    @cached_property
    def limbs(self) -> dict[str, LimbStanding]:
        """How each limb stood on the day, by what had happened to it."""
        return {side: limb_standing(self.events, Side(side), self.on) for side in SIDES}

    @cached_property
    def events(self) -> tuple[LimbEvent, ...]:
        """What had happened to the limbs, and what lasted on the day, as the core takes it."""
        return tuple(event for fact in self.facts if (event := fact.event))

    def lost(self, side: str) -> dict[str, LimbEvent]:
        """Sites that were not there any more when the exam was made, each with what took it.

        Where a cuff was inflated and the loss may have come later (the same day, or "about" that year), the
        part was still there. A loss that is certainly older stands: the reading is then the doubtful one.
        """
        return {
            part.value: event
            for part, event in self.limbs[side].lost.items()
            if isinstance(part, CoreSite)
            and not (
                event.on.latest >= self.on
                and any(row.outcome in INFLATED for row in self.attempts(side, part.value))
            )
        }

    def forbidding(self, side: str, site: str) -> Caution | None:
        """The caution that forbids a cuff here, if one does."""
        for caution in self.cautions:
            if caution.do_not_inflate and caution.side == side and site in REGION_SITES[caution.region]:
                return caution
        return None

    def lock_words(self, side: str, site: str) -> str:
        """ "Do not inflate: dialysis fistula or graft (RIGHT arm)", or nothing."""
        caution = self.forbidding(side, site)
        if caution is None:
            fistula = self.limbs[side].arm_locked_by if site == Site.ARM else None
            if fistula is None:
                return ""
            said = fistula.words_dated.removeprefix(f"{SIDE_WORDS[side]} ")
            return f"Do not inflate: {said} ({SIDE_WORDS[side]} arm)"
        note = f", {caution.note}" if caution.note else ""
        return (
            f"Do not inflate: {caution.get_kind_display()}{note} "
            f"({SIDE_WORDS[side]} {caution.get_region_display()})"
        )

    def planned(self, side: str) -> tuple[str, ...]:
        return planned_sites(self.exam.exam_type, self.lost(side))

    @cached_property
    def missing(self) -> tuple[Place, ...]:
        """Planned sites that have neither a reading nor a reason, RIGHT first."""
        return tuple(
            Place(side, site, 1)
            for side in SIDES
            for site in self.planned(side)
            if not self.attempts(side, site)
        )

    @property
    def is_limited(self) -> bool:
        """Whether a reason stands at a planned site instead of a reading."""
        return any(
            all(row.outcome == Outcome.NOT_OBTAINED for row in self.attempts(side, site))
            for side in SIDES
            for site in self.planned(side)
        )

    def attempts(self, side: str, site: str) -> tuple[Reading, ...]:
        """What stands at a site, in the order of attempts."""
        return self._by_site.get((side, site), ())

    @cached_property
    def _by_site(self) -> dict[tuple[str, str], tuple[Reading, ...]]:
        found: dict[tuple[str, str], tuple[Reading, ...]] = {}
        for place in sorted(self.standing, key=lambda one: one.attempt):
            key = (place.side, place.site)
            found[key] = (*found.get(key, ()), self.standing[place])
        return found

    def pressures(self, side: str, site: str) -> tuple[Decimal, ...]:
        return tuple(
            row.pressure_mmhg
            for row in self.attempts(side, site)
            if row.outcome == Outcome.PRESSURE and row.pressure_mmhg is not None
        )

    @cached_property
    def first_arm(self) -> str:
        """The arm measured first: as recorded, else RIGHT unless only that one is protected."""
        recorded = self.condition(PreparationItem.FIRST_ARM)
        if recorded:
            return recorded
        right_locked = self.lock_words("right", Site.ARM)
        left_locked = self.lock_words("left", Site.ARM)
        return "left" if right_locked and not left_locked else "right"

    @property
    def rest(self) -> tuple[int | None, bool]:
        """Whole minutes of rest, and whether they were typed instead of timed."""
        start, end = self.exam.lying_flat_at, self.exam.first_inflation_at
        if start and end and end >= start:
            return int((end - start).total_seconds() // 60), self.exam.entered_later
        typed = self.condition(PreparationItem.REST_MINUTES_TYPED)
        return (int(typed), True) if typed else (None, False)


def chart_of(exam: Exam) -> Chart:
    """The chart of one exam: six queries."""
    return charts_of([exam])[0]


def charts_of(
    exams: Sequence[Exam], *, whole_history: bool = False, people_once: bool = False
) -> list[Chart]:
    """The charts of exams of one patient, in the order given: six queries for any number of them.

    With `whole_history` these are all the exams of the patient and nothing is asked twice: four queries. With
    `people_once` who entered the rows is read in a query of its own and not with every row, which is cheaper
    for more than a few exams.
    """
    if not exams:
        return []
    patient_id, ids = exams[0].patient_id, [exam.pk for exam in exams]
    of_readings = Reading.objects.filter(exam_id__in=ids).order_by("pk")
    of_preparations = Preparation.objects.filter(exam_id__in=ids).order_by("pk")
    if not people_once:
        of_readings = of_readings.select_related("entered_by", "override_by")
        of_preparations = of_preparations.select_related("entered_by")
    readings, preparations = list(of_readings), list(of_preparations)
    if people_once:
        _name_people(readings, preparations)
    cautions = list(Caution.objects.filter(patient_id=patient_id).order_by("pk"))
    facts = list(
        LimbFact.objects.filter(patient_id=patient_id, replaced_by=None, withdrawn_at=None).order_by("pk")
    )
    inflated = _inflated(exams) if whole_history else _inflated_of(patient_id)
    flows = lru_cache(partial(_flows, readings) if whole_history else partial(_flows_of, patient_id))
    readings_of, preparations_of = _by_exam(readings), _by_exam(preparations)
    charts = []
    for exam in exams:
        zone = exam.clinic.zone
        moment, on = moment_of(exam), moment_of(exam).astimezone(zone).date()
        next_at = next((at for _, at in inflated if at > moment), None)
        next_on = next_at.astimezone(zone).date() if next_at else None
        charts.append(
            Chart(
                exam=exam,
                on=on,
                readings=tuple(readings_of[exam.pk]),
                preparations=tuple(preparations_of[exam.pk]),
                cautions=tuple(one for one in cautions if one.in_force_on(on)),
                facts=tuple(fact for fact in facts if fact_counts(fact, on, next_on)),
                flows=flows,
                earlier=frozenset(pk for pk, at in inflated if at < moment),
            )
        )
    return charts


def _name_people(readings: Sequence[Reading], preparations: Sequence[Preparation]) -> None:
    """Give each row who entered it: a few people, read once instead of with every row. One query."""
    by: list[tuple[Reading | Preparation, str, int]] = [
        *((row, "entered_by", row.entered_by_id) for row in readings),
        *((row, "entered_by", row.entered_by_id) for row in preparations),
        *((row, "override_by", row.override_by_id) for row in readings if row.override_by_id),
    ]
    # Nobody has the number 0: asked for where there are no rows, so that the queries stay as many.
    people = User.objects.in_bulk({number for _, _, number in by} or {0})
    for row, name, number in by:
        row._state.fields_cache[name] = people[number]


def _inflated(exams: Iterable[Exam]) -> list[tuple[int, datetime]]:
    """Exams in which a cuff was inflated, and when, the oldest first."""
    begun = [(exam.pk, exam.first_inflation_at) for exam in exams if exam.first_inflation_at is not None]
    return sorted(begun, key=lambda one: (one[1], one[0]))


def _inflated_of(patient_id: int) -> list[tuple[int, datetime]]:
    true = Exam.objects.filter(patient_id=patient_id, first_inflation_at__isnull=False)
    begun = true.exclude(state=ExamState.IN_ERROR).order_by("first_inflation_at", "pk")
    return [(pk, at) for pk, at in begun.values_list("pk", "first_inflation_at") if at]


def _flows(readings: Sequence[Reading]) -> set[tuple[int, str]]:
    """Exam and side of every standing reading that found flow at an ankle."""
    replaced = {row.replaces_id for row in readings}
    return {
        (row.exam_id, row.side)
        for row in readings
        if row.site in ANKLE_SITES and row.outcome in FLOW and not row.withdrawn and row.pk not in replaced
    }


def _flows_of(patient_id: int) -> set[tuple[int, str]]:
    standing = Reading.objects.exclude(exam__state=ExamState.IN_ERROR).filter(
        exam__patient_id=patient_id,
        site__in=ANKLE_SITES,
        outcome__in=FLOW,
        withdrawn=False,
        replaced_by=None,
    )
    return set(standing.values_list("exam_id", "side").distinct())


def _by_exam(rows: Iterable[Row]) -> defaultdict[int, list[Row]]:
    """The rows of each exam, in the order given; one pass, however many exams there are."""
    found: defaultdict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.exam_id].append(row)
    return found


def moment_of(exam: Exam) -> datetime:
    """When the exam was: its first inflation, else the time it was booked for."""
    return exam.first_inflation_at or exam.booked_for


def fact_counts(fact: LimbFact, on: date, next_exam_on: date | None) -> bool:
    """Whether a fact bears on an exam: it held on the day, or began before the next exam.

    An ulcer recorded a month after a toe of 24 mmHg makes that toe urgent: nothing newer is known of it.
    """
    if fact.started_on <= on:
        return fact.holds_on(on)
    return next_exam_on is None or fact.started_on < next_exam_on


def measured_exam(chart: Chart) -> MeasuredExam:
    """The exam as the core takes it."""
    minutes, typed = chart.rest
    return MeasuredExam(
        right=_limb(chart, "right"),
        left=_limb(chart, "left"),
        first_arm=Side(chart.first_arm),
        conditions=Conditions(
            position=chart.condition(PreparationItem.POSITION) or None,
            rest_minutes=minutes,
            rest_typed=typed,
            heart_to_site_cm=chart.number(PreparationItem.HEART_TO_FOOT_CM),
            room_celsius=chart.number(PreparationItem.ROOM_CELSIUS),
            tobacco_hours=chart.number(PreparationItem.TOBACCO_HOURS),
            caffeine_hours=chart.number(PreparationItem.CAFFEINE_HOURS),
        ),
        planned=frozenset((Side(side), CoreSite(site)) for side in SIDES for site in chart.planned(side)),
    )


def context_of(chart: Chart) -> Context:
    """The patient behind the exam, as the core takes it."""
    patient = chart.exam.patient
    return Context(
        diabetes=patient.diabetes,
        kidney_disease=patient.kidney_disease,
        right=_limb_facts(chart, "right"),
        left=_limb_facts(chart, "left"),
    )


def _limb(chart: Chart, side: str) -> MeasuredLimb:
    def of(sites: Sequence[str]) -> dict[CoreSite, tuple[SiteReading, ...]]:
        found = {CoreSite(site): _site(chart, side, site) for site in sites}
        return {site: readings for site, readings in found.items() if readings}

    return MeasuredLimb(
        side=Side(side),
        arm=_site(chart, side, Site.ARM),
        ankle=of(ANKLE_SITES),
        toes=of(TOE_SITES),
        toe_skin_celsius=chart.number(f"{side}_toe_celsius"),
    )


def _site(chart: Chart, side: str, site: str) -> tuple[SiteReading, ...]:
    return tuple(
        SiteReading(
            outcome=CoreOutcome(row.outcome),
            half_mmhg=None if row.pressure_mmhg is None else int(row.pressure_mmhg * 2),
            reason=reason_words(row.reason, row.reason_text) if row.reason else None,
            technique=row.technique,
            repeat_of_first_arm=kind_of_site(site) == "arm" and side == chart.first_arm and row.attempt == 2,
        )
        for row in chart.attempts(side, site)
    )


def _limb_facts(chart: Chart, side: str) -> LimbFacts:
    kinds = {fact.kind for fact in chart.facts if fact.side == side}
    return LimbFacts(
        open_wound=FactKind.OPEN_WOUND in kinds,
        gangrene=FactKind.GANGRENE in kinds,
        rest_pain=FactKind.REST_PAIN in kinds,
        foot_infection=FactKind.FOOT_INFECTION in kinds,
        had_signal_before=side in chart.flow_before,
    )
