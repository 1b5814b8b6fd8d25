"""The healing outlook of one foot: everything the core is asked with, read in a fixed number of queries."""

from __future__ import annotations

import pickle
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache

from access.models import Clinic
from access.people import Person
from access.permissions import require
from exams.hemodynamics import (
    WOUND_SOURCES,
    AreaCourse,
    Context,
    Criteria,
    FootFacts,
    Interpretation,
    LimbFacts,
    Outlook,
    OutlookQuestion,
    PressureExam,
    ReadingUsed,
    UrgencyRule,
    limb_standing,
    load_criteria,
    outlook,
    wound_grade,
)
from exams.hemodynamics import Side as CoreSide
from exams.patients.events import FactKind
from exams.patients.models import LimbFact, Patient
from exams.patients.queries import today_in
from exams.visits.models import Exam, ExamState
from exams.visits.queries.chart import Chart, charts_of, context_of, measured_exam
from exams.visits.queries.criteria import DEFAULT_CRITERIA, adopted_by
from exams.visits.queries.results import stored_interpretations
from exams.wounds.asked import disease_in, foot_facts, wound_course
from exams.wounds.models import Assessment, BeyondSalvage, WoundEntry
from exams.wounds.queries.outcomes import counts_alike

# The core names what it leaves out and why; more than these would only lengthen that list.
NEWEST_EXAMS = 4


@dataclass(frozen=True)
class OutlookAsked:
    """The answer for one foot and what it was asked with.

    ``exam_ids`` maps the day of an exam to its number, so that a number on the page leads to its sheet.
    ``entries`` are the open wounds of the foot, ``courses`` those of them that were assessed.
    """

    answer: Outlook
    question: OutlookQuestion
    criteria: Criteria
    exam_ids: dict[date, int]
    entries: tuple[WoundEntry, ...]
    assessments: dict[int, tuple[Assessment, ...]]
    judgement: BeyondSalvage | None

    @property
    def readings(self) -> list[tuple[ReadingUsed, int | None]]:
        """Each reading with the number of its exam."""
        return [(one, self.exam_ids.get(one.on)) for one in self.answer.readings]

    @property
    def rules(self) -> list[tuple[UrgencyRule, int | None]]:
        """Each rule of urgency with the number of the exam it was held against."""
        return [(one, self.exam_ids.get(one.on) if one.on else None) for one in self.answer.rules]

    @property
    def wounds(self) -> list[tuple[WoundEntry, Assessment | None]]:
        """Each open wound of the foot with its newest assessment."""
        return [(one, (self.assessments.get(one.wound_id) or (None,))[-1]) for one in self.entries]

    @property
    def courses(self) -> list[tuple[WoundEntry, AreaCourse]]:
        by_key = {str(one.wound_id): one for one in self.entries}
        return [(by_key[key], course) for key, course in self.answer.courses]

    @property
    def has_ratios(self) -> bool:
        return bool(self.criteria.outlook and self.criteria.outlook.ratios)

    @property
    def sources(self) -> list[tuple[str, str]]:
        """Every source named on the page, with its title, in the order of their keys."""
        answer = self.answer
        stage = answer.stage
        keys = {answer.source, answer.referral.source, answer.compression.source, stage.source}
        keys |= {rule.source for rule in answer.rules}
        keys |= {course.source for _, course in answer.courses}
        titled = {key: source.title for key, source in self.criteria.sources.items()} | dict(WOUND_SOURCES)
        return [(key, titled.get(key, key)) for key in sorted(keys)]


@dataclass(frozen=True)
class ReadFoot:
    """What was recorded of a person up to the day ``on``: newest exams first, oldest assessments first."""

    patient: Patient
    on: date
    charts: list[Chart]
    found: dict[int, Interpretation]
    facts: list[LimbFact]
    entries: list[WoundEntry]
    assessments: dict[int, tuple[Assessment, ...]]
    judgements: list[BeyondSalvage]

    def open_on(self, side: str) -> tuple[WoundEntry, ...]:
        """Wounds of a foot that were open on the day."""
        return tuple(
            one
            for one in self.entries
            if one.side == side and (one.closed_on is None or one.closed_on > self.on)
        )

    def judgement(self, side: str) -> BeyondSalvage | None:
        return next((one for one in reversed(self.judgements) if one.side == side), None)

    def foot(self, side: str) -> FootFacts:
        """What is known of a foot beside its wounds, newest assessment first."""
        wounds = [one.wound_id for one in self.entries if one.side == side]
        seen = [one for wound in wounds for one in self.assessments.get(wound, ())]
        return foot_facts(
            self.patient,
            side,
            self.facts,
            max(seen, key=lambda one: (one.assessed_on, one.pk or 0), default=None),
            past_ulcer=any(one.closed_on is not None for one in self.entries),
            arterial_disease=disease_in((self.found[chart.exam.pk] for chart in self.charts), side),
        )


def outlook_criteria(clinic: Clinic) -> Criteria:
    """The criteria in force in a clinic; where those have no outlook yet, their newest version that has."""
    adopted = adopted_by(clinic)
    if adopted.outlook is not None:
        return adopted
    newest = load_criteria(adopted.name)
    return newest if newest.outlook is not None else load_criteria(DEFAULT_CRITERIA)


def outlook_for(
    person: Person, patient: Patient, side: str, *, pre_test_percent: int | None = None
) -> OutlookAsked:
    """The healing outlook of one foot today, with the clinic's own outcomes; a fixed number of queries.

    ``pre_test_percent`` is the chance of healing before the test, 1 to 99, where somebody chose one.
    """
    require(person, "see wounds", patient)
    criteria = outlook_criteria(patient.clinic)
    read = read_of(patient, today_in(patient.clinic))
    question = question_at(read, side, pre_test_percent=pre_test_percent)
    grades = [n for one in question.wounds if (n := wound_grade(one.wound).number) is not None]
    alike = counts_alike(patient.clinic, _toe_band(read, side), max(grades, default=None))
    question = replace(question, outcomes=alike)
    return OutlookAsked(
        answer=_answer(pickle.dumps(question), criteria.name, criteria.version),
        question=question,
        criteria=criteria,
        exam_ids={chart.on: chart.exam.pk for chart in reversed(read.charts)},
        entries=read.open_on(side),
        assessments=read.assessments,
        judgement=read.judgement(side),
    )


@lru_cache(maxsize=64)
def _answer(question: bytes, criteria: str, version: str) -> Outlook:
    """What the core answers: the same question always gives the same, so a page read again is quick.

    Kept by each process for itself, with no name in it: the limb, its pressures and its wounds only.
    """
    # Written by this process a moment ago, never read from anywhere.
    return outlook(pickle.loads(question), load_criteria(criteria, version))  # noqa: S301


def question_at(read: ReadFoot, side: str, *, pre_test_percent: int | None = None) -> OutlookQuestion:
    """What the core is asked of one foot on the day ``read`` is of."""
    entries = read.open_on(side)
    events = [event for fact in read.facts if (event := fact.event)]
    judgement = read.judgement(side)
    return OutlookQuestion(
        side=CoreSide(side),
        today=read.on,
        exams=tuple(
            PressureExam(chart.on, measured_exam(chart), read.found[chart.exam.pk].findings)
            for chart in read.charts
        ),
        wounds=tuple(
            wound_course(one, read.assessments[one.wound_id])
            for one in entries
            if one.wound_id in read.assessments
        ),
        foot=read.foot(side),
        context=_context(read),
        last_procedure=limb_standing(events, CoreSide(side), read.on).baseline,
        pre_test_percent=pre_test_percent,
        stage_by_clinician=5 if judgement is not None and judgement.holds else None,
    )


def read_of(patient: Patient, on: date) -> ReadFoot:
    """Everything recorded of a person up to a day that an outlook may rest on; a fixed number of queries."""
    end = datetime.combine(on + timedelta(days=1), time.min, patient.clinic.zone)
    exams = list(
        Exam.objects.filter(patient=patient, first_inflation_at__lt=end)
        .exclude(state=ExamState.IN_ERROR)
        .select_related("clinic")
        .order_by("-first_inflation_at", "-pk")[:NEWEST_EXAMS]
    )
    for exam in exams:
        exam.patient = patient
    entries = WoundEntry.objects.filter(
        wound__episode__patient=patient, wound__withdrawn_at=None, replaced_by=None, began_on__lte=on
    ).select_related("wound__episode")
    seen: dict[int, list[Assessment]] = {}
    standing = Assessment.objects.filter(
        wound__episode__patient=patient,
        wound__withdrawn_at=None,
        replaced_by=None,
        withdrawn_at=None,
        assessed_on__lte=on,
    )
    for one in standing.order_by("assessed_on", "pk"):
        seen.setdefault(one.wound_id, []).append(one)
    facts = LimbFact.objects.filter(patient=patient, replaced_by=None, withdrawn_at=None, started_on__lte=on)
    return ReadFoot(
        patient=patient,
        on=on,
        charts=charts_of(exams),
        found=stored_interpretations(exams),
        facts=list(facts.order_by("pk")),
        entries=sorted(entries, key=lambda one: (one.wound.number, one.pk)),
        assessments={wound: tuple(found) for wound, found in seen.items()},
        judgements=list(
            BeyondSalvage.objects.filter(episode__patient=patient).select_related("said_by").order_by("pk")
        ),
    )


def _toe_band(read: ReadFoot, side: str) -> str:
    """The band of the newest toe pressure of a foot; "" where there is none."""
    for chart in read.charts:
        toe = read.found[chart.exam.pk].of("toe_pressure", CoreSide(side))
        if toe is not None and toe.band:
            return toe.band
    return ""


def _context(read: ReadFoot) -> Context:
    """As the newest exam is read; without one, from the facts of the limbs alone."""
    if read.charts:
        return context_of(read.charts[0])
    kinds = {(fact.side, fact.kind) for fact in read.facts if fact.holds_on(read.on)}

    def limb(side: str) -> LimbFacts:
        return LimbFacts(
            open_wound=(side, FactKind.OPEN_WOUND) in kinds,
            rest_pain=(side, FactKind.REST_PAIN) in kinds,
            foot_infection=(side, FactKind.FOOT_INFECTION) in kinds,
        )

    patient = read.patient
    return Context(patient.diabetes, patient.kidney_disease, right=limb("right"), left=limb("left"))
