"""From an exam's chart, findings and years to the words of its report. Nothing is read or stored here."""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo

from exams.hemodynamics import Criteria, Finding, Interpretation, NotStated, Side, minutes_words
from exams.visits.models import HandOver, HandOverAttempt, Reading, RemarkAnswer
from exams.visits.queries.chart import Chart, moment_of
from exams.visits.queries.ladder import ORDER
from exams.visits.wording import (
    POSITIONS,
    place_words,
    reading_shown,
    reason_words,
    technique_words,
)
from reports.documents.conclusion import is_said
from reports.documents.content import (
    HANDED_OVER,
    IN_ERROR,
    TAKEN_OVER,
    Cell,
    Fact,
    FindingRow,
    HandOverRow,
    ReadingRow,
    Statement,
)
from reports.timeline.figure import NAMES
from reports.timeline.seen import interval_words
from reports.timeline.series import day

TITLES = {
    "toe_only": "Toe pressures at rest",
    "ankle_and_toe": "Ankle and toe pressures at rest",
    "full": "Ankle and toe pressures at rest, full exam",
}
# Said under "Conditions" or as a sentence, so not a second time as a row of the findings.
ELSEWHERE = frozenset(
    {
        "rest",
        "position",
        "room_temperature",
        "tobacco",
        "caffeine",
        "toe_skin_temperature",
        "urgency",
        "pattern",
    }
)
# The answer first; the single pressures behind it follow in the core's order.
FIRST = (
    "ankle_brachial_index",
    "toe_brachial_index",
    "ankle_pressure",
    "toe_pressure",
)
INDICES = frozenset({"ankle_brachial_index", "toe_brachial_index"})
UNCERTAINTY = (
    "Each interval is a 95 % interval of the measurement, from the spread of the repeats and never below "
    "the published error of one reading. It does not cover a wrong cuff, a moved sensor, a cold foot or too "
    "short a rest. “Changed” is said only where a difference is beyond the noise between two days. A "
    "half mmHg is the mean of two readings or was typed; it stays: 29.5 rounded would read as the limit 30."
)
NOT_RECORDED = "not recorded"


def exam_facts(chart: Chart) -> tuple[Fact, ...]:
    """What was asked for, by whom, and how it was measured (workflow.md section 3, items 3 to 7, 29)."""
    exam, patient = chart.exam, chart.exam.patient
    kind = f"{exam.get_exam_type_display()}, {'limited' if exam.limited else 'complete'}"
    facts = [
        Fact("Exam", kind),
        Fact("Date and time", moment(moment_of(exam), exam.clinic.zone)),
        Fact("Indication", exam.indication_text or exam.get_indication_display() or NOT_RECORDED),
        Fact("Referred by", exam.referrer or patient.referrer or NOT_RECORDED),
        Fact("Measured by", exam.measured_by.full_name if exam.measured_by else NOT_RECORDED),
        Fact("Identity confirmed", exam.identity_confirmed_how or NOT_RECORDED),
        Fact("Technique", _techniques(chart)),
        Fact("Device and calibration", "not recorded by this version"),
        Fact("Diabetes", patient.get_diabetes_display()),
        Fact("Kidney disease", patient.get_kidney_disease_display()),
    ]
    facts += [Fact(f"{side.word} limb", _limb_facts(chart, side)) for side in Side]
    facts.append(Fact("Cautions", _cautions(chart)))
    return tuple(facts)


def conditions(chart: Chart) -> tuple[Fact, ...]:
    """Position, rest, temperatures, warming, tobacco and caffeine (item 8)."""
    minutes, typed = chart.rest
    rest = NOT_RECORDED
    if minutes is not None:
        rest = f"{minutes_words(minutes)}{' (typed, not timed)' if typed else ''}"
    return (
        Fact("Position", POSITIONS.get(chart.condition("position"), NOT_RECORDED)),
        Fact("Rest before first cuff", rest),
        *(Fact(f"{side.word} toe skin", _with(chart, f"{side.value}_toe_celsius", "°C")) for side in Side),
        Fact("Room", _with(chart, "room_celsius", "°C")),
        Fact("Warming", chart.condition("warming") or NOT_RECORDED),
        Fact("Since tobacco", _with(chart, "tobacco_hours", "hours")),
        Fact("Since caffeine", _with(chart, "caffeine_hours", "hours")),
        Fact("Foot above the heart", _with(chart, "heart_to_foot_cm", "cm")),
        Fact("Comment", chart.condition("comment") or "none"),
    )


def limitations(chart: Chart, answers: Iterable[RemarkAnswer]) -> tuple[str, ...]:
    """What was planned and is not here, and why; what was asked at the bedside and answered (item 16)."""
    exam = chart.exam
    said = []
    if exam.limited:
        said.append("Limited exam: not everything planned was measured.")
    if exam.imported_from:
        said.append(f"Imported from {exam.imported_from}: not measured in this service.")
    elif exam.entered_later:
        said.append("Entered later from paper: the times are as typed.")
    for side in Side:
        for site in ORDER:
            attempts = chart.attempts(side.value, site.value)
            if attempts and all(row.outcome == "not_obtained" for row in attempts):
                last = attempts[-1]
                why = reason_words(last.reason, last.reason_text)
                said.append(f"{place_words(side.value, site.value)} not obtained: {why}.")
    said += [f"{place_words(place.side, place.site)}: no reading and no reason." for place in chart.missing]
    said += [f"{one.words} Answered: {one.answer}" for one in answers]
    return tuple(said)


def finding_rows(interpretation: Interpretation, criteria: Criteria) -> tuple[FindingRow, ...]:
    """Every finding of a limb that has a value or a band, RIGHT beside LEFT (items 9 to 15, 20)."""
    shown = [
        one
        for one in interpretation.findings
        if one.limb is not None and one.measure not in ELSEWHERE and (one.shown or one.band_words)
    ]
    measures = dict.fromkeys(one.measure for one in shown)
    rows = []
    for measure in [
        *(one for one in FIRST if one in measures),
        *(one for one in measures if one not in FIRST),
    ]:
        named = next(one for one in shown if one.measure == measure)
        right, left = (cell(interpretation.of(measure, side)) for side in Side)
        # The criteria are named once, at the end; every rule is theirs.
        rule = named.rule.removeprefix(f"{criteria.label}: ")
        rows.append(FindingRow(label(measure), right, left, rule, named.source))
    return tuple(rows)


def whole_exam(interpretation: Interpretation) -> tuple[Fact, ...]:
    """Findings of neither limb: the arm pressure divided by, and the difference between the arms."""
    return tuple(
        Fact(label(one.measure), f"{one.shown} ({interval})" if (interval := _interval(one)) else one.shown)
        for one in interpretation.on(None)
        if one.measure not in ELSEWHERE and one.shown
    )


def statements(interpretation: Interpretation, conclusion: str = "") -> tuple[Statement, ...]:
    """The core's sentences, RIGHT, LEFT, then the exam; each once, no index a second time.

    Without those that the conclusion kept from the draft.
    """
    said = [
        Statement("" if one.limb is None or one.limb.word in one.sentence else one.limb.word, one.sentence)
        for limb in (Side.RIGHT, Side.LEFT, None)
        for one in interpretation.on(limb)
        if one.sentence and (one.flags or one.measure not in INDICES)
        if not is_said(one.sentence, limb, conclusion)
    ]
    return tuple(dict.fromkeys(said))


def reading_rows(chart: Chart) -> tuple[ReadingRow, ...]:
    """Every attempt, RIGHT then LEFT, arm to toe; a corrected value stands struck above its correction.

    A value retyped before the exam was measured is a slip of the hand: the record keeps it, unprinted.
    """
    by_replaced = {row.replaces_id: row for row in chart.readings if row.replaces_id}
    rows = []
    for row in sorted(chart.readings, key=in_reading_order):
        newer = by_replaced.get(row.pk)
        if row.withdrawn or (newer is not None and not newer.replaced_because):
            continue
        notes = []
        if newer is not None:
            notes.append(f"replaced by {newer.entered_by.full_name}: {newer.replaced_because}")
        if row.replaced_because:
            notes.append(f"correction by {row.entered_by.full_name}")
        if row.override_because and row.override_by:
            notes.append(f"do not inflate overridden by {row.override_by.full_name}: {row.override_because}")
        rows.append(
            ReadingRow(
                side=Side(row.side).word,
                site=str(row.get_site_display()),
                attempt=_attempt(chart, row.side, row.site, row.attempt),
                shown=reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text),
                technique=technique_words(row.technique) if row.outcome != "not_obtained" else "",
                at=f"{row.typed_at.astimezone(chart.exam.clinic.zone):%H:%M}",
                struck=newer is not None,
                notes=tuple(notes),
            )
        )
    return tuple(rows)


def in_reading_order(row: Reading) -> tuple[bool, int, int, int]:
    """RIGHT then LEFT, arm to toe, each attempt as it was taken."""
    sites = [site.value for site in ORDER]
    return (row.side != Side.RIGHT.value, sites.index(row.site), row.attempt, row.pk)


def hand_over_row(slip: HandOver, attempts: Sequence[HandOverAttempt], zone: tzinfo) -> HandOverRow:
    """A critical result, who was told, when, and what they read back (item 23)."""
    facts = [Fact("Recognised", f"{moment(slip.raised_at, zone)}, by {slip.raised_by.full_name}")]
    facts += [
        Fact("Tried", f"{moment(one.tried_at, zone)}: {one.whom} {one.number}: {one.outcome}")
        for one in attempts
    ]
    if slip.reads_now:
        facts.append(Fact("Reads now", slip.reads_now))
    if slip.raised_in_error_because:
        state = IN_ERROR
        facts.append(Fact("Because", slip.raised_in_error_because))
    elif slip.taken_over_by_id is not None:
        state = TAKEN_OVER
    elif slip.told_at is None or slip.told_by is None:
        state = "NOT YET HANDED OVER when this report was made."
    else:
        state = HANDED_OVER if slip.closed_at else "Told; the record of it is not complete."
        facts += [
            Fact("Told", ", ".join(filter(None, [slip.told_name, slip.told_role, slip.told_number]))),
            Fact("By, at", f"{slip.told_by.full_name}, {moment(slip.told_at, zone)}"),
            Fact("Read back", slip.read_back or NOT_RECORDED),
            Fact("Agreed", slip.agreed or NOT_RECORDED),
            Fact("Patient told", slip.patient_told or NOT_RECORDED),
        ]
    return HandOverRow(Side(slip.limb).word, slip.sentence, state, tuple(facts))


def sources(criteria: Criteria, findings: Iterable[Finding]) -> tuple[str, ...]:
    """The full reference behind every source named by a finding."""
    named = dict.fromkeys(key for one in findings for key in re.findall(r"[A-Za-z0-9_]+", one.source))
    return tuple(f"{key}: {criteria.sources[key].title}" for key in named if key in criteria.sources)


def label(measure: str) -> str:
    """The name of a measure as a row's heading."""
    words = MEASURES.get(measure, measure.replace("_", " "))
    return words[0].upper() + words[1:]


MEASURES: dict[str, str] = {
    **{measure.value: words for measure, words in NAMES.items()},
    "arm_used": "arm pressure divided by",
    "arm_difference": "difference between the arms",
    "ankle_toe_gradient": "ankle to toe gradient",
    "toe_2_pressure": "second toe pressure",
    "toe_3_pressure": "third toe pressure",
    "toe_4_pressure": "fourth toe pressure",
    "toe_5_pressure": "fifth toe pressure",
}


def cell(finding: Finding | None) -> Cell | None:
    """A finding as a cell; the reason stands where there is no value."""
    if finding is None:
        return None
    shown = finding.shown
    if isinstance(finding.value, NotStated) and shown in ("", "not stated"):
        # Words without a band say themselves why there is no value.
        shown = finding.value.reason if finding.band or not finding.band_words else finding.band_words
    band_words = finding.band_words if finding.band_words != shown else ""
    return Cell(shown, _interval(finding), finding.band, band_words)


def moment(at: datetime, zone: tzinfo) -> str:
    """25 Nov 2026, 09:55, as the clock on the clinic's wall showed it."""
    local = at.astimezone(zone)
    return f"{day(local)}, {local:%H:%M}"


def _interval(finding: Finding) -> str:
    """The interval, or the word why a number has none; nothing beside what is no number."""
    if isinstance(finding.value, NotStated):
        return ""
    if isinstance(finding.interval, NotStated):
        return f"no interval: {finding.interval.reason}"
    return interval_words(finding.interval, finding.unit)


def _with(chart: Chart, item: str, unit: str) -> str:
    value = chart.condition(item)
    return f"{value} {unit}" if value else NOT_RECORDED


def _techniques(chart: Chart) -> str:
    groups: dict[str, dict[str, None]] = {"arm": {}, "ankle": {}, "toe": {}}
    for place, row in chart.standing.items():
        group = "arm" if place.site == "arm" else "toe" if place.site.startswith("toe_") else "ankle"
        if row.outcome != "not_obtained":
            groups[group][technique_words(row.technique)] = None
    said = [f"{group}: {', '.join(words)}" for group, words in groups.items() if words]
    return "; ".join(said) or "nothing measured"


def _limb_facts(chart: Chart, side: Side) -> str:
    said = [f"{fact.words} {fact.when}" for fact in chart.facts if fact.side == side.value]
    return "; ".join(said) or "no wound, rest pain, infection or lost toe on record"


def _cautions(chart: Chart) -> str:
    said = [
        f"{'do not inflate' if one.do_not_inflate else 'caution'}: {Side(one.side).word} "
        f"{one.get_region_display()}, {one.get_kind_display()}"
        for one in chart.cautions
    ]
    return "; ".join(said) or "none on record"


def _attempt(chart: Chart, side: str, site: str, attempt: int) -> str:
    if site == "arm" and side == chart.first_arm and attempt == 2:
        return "again at the end"
    return str(attempt)
