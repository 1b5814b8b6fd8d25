"""Findings of an exam: computed by the core, stored as rows, and computed again when something changes."""

from dataclasses import dataclass, replace
from decimal import Decimal

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.hemodynamics import Finding, Interpretation, NotStated, interpret
from exams.patients.models import Patient
from exams.visits.agreement.services import follow_pairs
from exams.visits.further.findings import further_findings
from exams.visits.further.queries import entered_of
from exams.visits.models import Exam, ExamState, Result
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import Chart, chart_of, context_of, measured_exam
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import hand_overs
from exams.visits.services.acts import held


@one_act()
def refresh_results(*, exam: Exam, by: Person, chart: Chart | None = None) -> Interpretation:
    """Interpret the exam as it stands, store every finding, and open a slip for what is urgent.

    Called inside the act that changed something, so that a value and its meaning are stored together.
    `chart` is what that act has read of the exam, where it stored no row since.
    """
    found = interpretation_of(chart or chart_of(exam))
    exam.criteria, exam.criteria_version = found.criteria_name, found.criteria_version
    exam.save(update_fields=["criteria", "criteria_version"])
    Result.objects.filter(exam=exam).delete()
    Result.objects.bulk_create(_row(exam, found, finding) for finding in found.findings)
    hand_overs.follow(exam=exam, found=found, by=by)
    if exam.state in DONE_STATES:
        follow_pairs(patient=exam.patient, by=by)
    return found


@one_act()
def reinterpret_latest(*, patient: Patient, by: Person) -> None:
    """Read the newest pressures of a patient again because what they mean has changed.

    An ulcer recorded after a toe of 24 mmHg must still reach someone.
    """
    follow_pairs(patient=patient, by=by)
    latest = (
        Exam.objects.select_for_update(of=("self",))
        .filter(patient=patient, first_inflation_at__isnull=False)
        .exclude(state=ExamState.IN_ERROR)
        .select_related("clinic", "patient")
        .order_by("-first_inflation_at", "-pk")
        .first()
    )
    if latest is None:
        return
    refresh_results(exam=latest, by=by)
    record(by, "exam interpreted again", latest, details={"because": "facts of the patient changed"})


@one_act()
def store_again(*, exam: Exam, by: Person) -> Interpretation:
    """Store what the core makes of an exam now, after its rules were changed."""
    require(by, "measure", exam)
    exam = held(exam)
    found = refresh_results(exam=exam, by=by)
    record(by, "exam interpreted again", exam, details={"because": "recomputed"})
    return found


def interpretation_of(chart: Chart) -> Interpretation:
    """What the core makes of a chart; no findings at all where nothing is recorded."""
    criteria = criteria_of(chart.exam)
    entered = entered_of(chart.exam)
    if not chart.standing and not entered:
        return Interpretation(criteria.name, criteria.version, criteria.content_hash)
    found = interpret(measured_exam(chart), criteria, context_of(chart))
    return replace(found, findings=found.findings + further_findings(entered, chart, found, criteria))


@dataclass(frozen=True)
class Difference:
    """A stored finding that the core would give otherwise today."""

    exam_id: int
    limb: str
    measure: str
    stored: str
    now: str


def differences(exam: Exam) -> list[Difference]:
    """How the stored findings of an exam differ from what the core makes of it now; empty if they do not."""
    stored = {_key(finding): finding for finding in stored_interpretation(exam).findings}
    now = {_key(finding): finding for finding in interpretation_of(chart_of(exam)).findings}
    return [
        Difference(
            exam.pk, limb, measure, _said(stored.get((limb, measure))), _said(now.get((limb, measure)))
        )
        for limb, measure in dict.fromkeys([*stored, *now])
        if stored.get((limb, measure)) != now.get((limb, measure))
    ]


def _row(exam: Exam, found: Interpretation, finding: Finding) -> Result:
    value = None if isinstance(finding.value, NotStated) else Decimal(finding.value)
    return Result(
        exam=exam,
        limb=finding.limb.value if finding.limb else "",
        measure=finding.measure,
        criteria=found.criteria_name,
        criteria_version=found.criteria_version,
        criteria_hash=found.criteria_hash,
        value=value,
        band=finding.band,
        finding=finding.to_json(),
        computed_at=clock.now(),
    )


def _key(finding: Finding) -> tuple[str, str]:
    return (finding.limb.value if finding.limb else "", finding.measure)


def _said(finding: Finding | None) -> str:
    if finding is None:
        return "not there"
    return "; ".join(filter(None, [finding.shown, finding.band, finding.sentence, " ".join(finding.flags)]))
