"""The exam sheet of one exam, built for one person. A fixed number of queries."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import partial

from access.people import Person
from access.permissions import allowed
from exams.hemodynamics import Interpretation, Side
from exams.patients.models import Patient, Region
from exams.visits.agreement.queries import own_noise_of
from exams.visits.models import Exam, ExamState
from exams.visits.plan import DONE_STATES, OPEN_STATES, SIDES
from exams.visits.queries.chart import Chart
from exams.visits.queries.criteria import criteria_of
from exams.visits.queries.exams import exam_for, hand_overs_of
from exams.visits.queries.fields import groups_of, preparation_of
from exams.visits.queries.ladder import ladders_of
from exams.visits.queries.last_time import last_time_cards
from exams.visits.queries.read import numbers_in_use, read
from exams.visits.queries.remarks import answers_of
from exams.visits.queries.steps import indication_words, steps_of
from exams.visits.remarks import remarks_on
from exams.visits.sheet import (
    Banner,
    CautionLine,
    LimbFindings,
    Progress,
    Reason,
    Rest,
    Sheet,
)
from exams.visits.wording import REASONS, SIDE_WORDS, place_words


def sheet_for(person: Person, exam_id: int) -> Sheet:
    """Everything the exam sheet shows; NotHere (a 404) for an exam of another clinic or of nobody."""
    return sheet_of(person, exam_for(person, exam_id))


def sheet_of(person: Person, exam: Exam) -> Sheet:
    """The same of an exam already read for this person."""
    of = read(exam)
    chart, found, earlier = of.chart, of.found, of.earlier
    criteria, own = criteria_of(exam), own_noise_of(exam.clinic)
    remarks = remarks_on(chart, found, earlier, criteria, partial(answers_of, exam), own)
    cards = last_time_cards(chart, earlier, criteria, own)
    may_measure = allowed(person, "measure")
    minutes, typed = chart.rest
    planned = sum(len(chart.planned(side)) for side in SIDES)
    slips = hand_overs_of(exam)
    sheet = Sheet(
        id=exam.pk,
        type_label=str(exam.get_exam_type_display()),
        state=exam.state,
        state_label=str(exam.get_state_display()),
        booked_for=exam.booked_for,
        indication=indication_words(exam),
        limited=exam.limited,
        entered_later=exam.entered_later,
        imported_from=exam.imported_from,
        closed_because=exam.closed_because,
        patient=banner_of(exam.patient, chart.on, numbers_in_use(exam.patient_id)),
        sentence="",
        editable=exam.state in OPEN_STATES and may_measure,
        needs_reason=exam.state in DONE_STATES and allowed(person, "correct readings"),
        may_override=allowed(person, "override do not inflate"),
        steps=steps_of(chart, person),
        rest=Rest(exam.lying_flat_at, exam.first_inflation_at, minutes, typed),
        cautions=tuple(_caution_lines(chart)),
        groups=groups_of(chart, earlier, remarks, cards, toes_first=exam.clinic.toes_first),
        preparation=preparation_of(chart, remarks),
        last_time=cards,
        findings=_findings(found),
        ladders=ladders_of(chart, found) if found.findings else (),
        criteria=f"{found.criteria_name} version {found.criteria_version}" if found.findings else "",
        remarks=remarks,
        hand_overs=slips,
        progress=Progress(
            done=planned - len(chart.missing),
            planned=planned,
            missing=tuple(place_words(place.side, place.site) for place in chart.missing),
        ),
        report_url="",
        first_entry=exam.entered_again_from_id or 0,
        may_correct_identity=allowed(person, "correct identity"),
    )
    return replace(sheet, sentence=_sentence(sheet))


def banner_of(patient: Patient, on: date, numbers: Sequence[tuple[str, str]] | None = None) -> Banner:
    """Whose exam it is; the age is that on the day. `numbers`: issuer and value, where they are at hand."""
    if numbers is None:
        numbers = [(one.issuer, one.value) for one in patient.identifiers_in_use]
    born = patient.birth_date
    return Banner(
        patient_id=patient.pk,
        name=f"{patient.given_name} {patient.family_name}",
        birth_date=born,
        age=on.year - born.year - ((on.month, on.day) < (born.month, born.day)),
        sex=str(patient.get_sex_display()),
        identifiers=tuple(f"{issuer} {value}" for issuer, value in numbers),
        diabetes=str(patient.get_diabetes_display()),
        kidney_disease=str(patient.get_kidney_disease_display()),
    )


def reason_list() -> tuple[Reason, ...]:
    """The printed list of reasons: `-number` is typed."""
    return tuple(
        Reason(number, reason.value, str(reason.label)) for number, reason in enumerate(REASONS, start=1)
    )


def _findings(found: Interpretation) -> tuple[LimbFindings, ...]:
    limbs = [
        LimbFindings(side.value, SIDE_WORDS[side.value], found.on(side)) for side in (Side.RIGHT, Side.LEFT)
    ]
    whole = LimbFindings("", "Both sides", found.on(None))
    return tuple(limb for limb in (*limbs, whole) if limb.findings)


def _caution_lines(chart: Chart) -> Sequence[CautionLine]:
    recorded = [
        CautionLine(
            side=caution.side,
            region=str(caution.get_region_display()),
            words=str(caution.get_kind_display()),
            do_not_inflate=caution.do_not_inflate,
            note=caution.note,
            source=caution.source,
            review_on=caution.review_on,
            review_due=caution.review_on is not None and caution.review_on <= chart.on,
        )
        for caution in chart.cautions
    ]
    fistulas = [
        CautionLine(
            side=side,
            region=str(Region.ARM.label),
            words=f"{fact.words}, {fact.when}",
            do_not_inflate=True,
            note=fact.note,
            source=fact.source,
            review_on=None,
            review_due=False,
        )
        for side in SIDES
        for fact in chart.facts
        if fact.side == side and fact.event is not None and fact.event == chart.limbs[side].arm_locked_by
    ]
    return [*recorded, *fistulas]


def _sentence(sheet: Sheet) -> str:
    """The one sentence at the top: where the exam stands and what comes next."""
    open_slips = [slip for slip in sheet.hand_overs if slip.is_open]
    if any(slip.reads_urgent for slip in open_slips):
        return "A person must be told of this result; recording it here tells no one."
    if open_slips:
        return "A hand-over slip is still open: say whom you told, or why it was raised in error."
    offered = {step.key: step for step in sheet.steps if step.offered and not step.done}
    if sheet.state == ExamState.BOOKED:
        return "Confirm who is on the couch, then start the rest clock."
    if sheet.state in (ExamState.IDENTIFIED, ExamState.RESTING):
        asked = [
            offered[key].label.lower() for key in ("lying_flat", "indication", "cautions") if key in offered
        ]
        return f"Before the first cuff: {', '.join(asked)}." if asked else "Ready for the first cuff."
    if sheet.state == ExamState.MEASURING:
        left = len(sheet.progress.missing)
        return (
            f"{left} of {sheet.progress.planned} planned sites still to measure."
            if left
            else "All planned sites done."
        )
    if sheet.state == ExamState.IN_ERROR:
        return f"Entered in error under this person ({sheet.closed_because}). Nothing here may be used."
    if sheet.state in (ExamState.NOT_ATTENDED, ExamState.STOPPED):
        return f"{sheet.state_label.capitalize()}: {sheet.closed_because}"
    limited = ", limited: some sites have a reason instead of a reading" if sheet.limited else ""
    later = ", entered later" if sheet.entered_later else ""
    if sheet.imported_from:
        later = f", imported from {sheet.imported_from}; not measured in this service"
    return f"{sheet.state_label.capitalize()}{limited}{later}."
