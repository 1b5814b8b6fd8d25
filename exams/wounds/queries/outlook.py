"""What the core is asked with of one foot: its record, read in a fixed number of queries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from access.models import Clinic
from exams.hemodynamics import (
    Context,
    Criteria,
    FootFacts,
    Interpretation,
    LimbFacts,
    OutlookQuestion,
    PressureExam,
    limb_standing,
    load_criteria,
)
from exams.hemodynamics import Side as CoreSide
from exams.patients.events import FactKind
from exams.patients.models import LimbFact, Patient
from exams.visits.models import Exam, ExamState
from exams.visits.queries.chart import Chart, charts_of, context_of, measured_exam
from exams.visits.queries.criteria import DEFAULT_CRITERIA, adopted_by
from exams.visits.queries.results import stored_interpretations
from exams.wounds.asked import disease_in, foot_facts, wound_course
from exams.wounds.models import Assessment, BeyondSalvage, WoundEntry

# The core names what it leaves out and why; more than these would only lengthen that list.
NEWEST_EXAMS = 4


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
        not_assessed=sum(one.wound_id not in read.assessments for one in entries),
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


def _context(read: ReadFoot) -> Context:
    """The facts of the limbs that hold on the day; what was measured before, as the newest exam knows it."""
    kinds = {(fact.side, fact.kind) for fact in read.facts if fact.holds_on(read.on)}
    newest = context_of(read.charts[0]) if read.charts else Context()

    def limb(side: CoreSide) -> LimbFacts:
        return LimbFacts(
            open_wound=(side, FactKind.OPEN_WOUND) in kinds,
            gangrene=(side, FactKind.GANGRENE) in kinds,
            rest_pain=(side, FactKind.REST_PAIN) in kinds,
            foot_infection=(side, FactKind.FOOT_INFECTION) in kinds,
            had_signal_before=newest.limb(side).had_signal_before,
        )

    patient = read.patient
    return Context(
        patient.diabetes, patient.kidney_disease, right=limb(CoreSide.RIGHT), left=limb(CoreSide.LEFT)
    )
