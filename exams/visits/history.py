"""Everything measured of a patient, exam by exam, as frozen values: what the timeline and the report read.

`limb_history` takes a fixed number of queries, whether there is one exam or two hundred.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from hashlib import sha256

from django.db.models import Count, Max, Value

from access.people import Person
from exams.hemodynamics import Interpretation, Side, Site, interpret, load_criteria
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState, Outcome, Preparation, PreparationItem, Reading, Result
from exams.visits.plan import ANKLE_SITES, SIDES, TOE_SITES, Place
from exams.visits.queries.chart import Chart, charts_of, context_of, measured_exam, moment_of
from exams.visits.queries.exams import exams_of, exams_on_record, exams_on_record_rows
from exams.visits.queries.results import stored_interpretations
from exams.visits.queries.steps import indication_words
from exams.visits.typed import CHOICES, LIMITS
from exams.visits.wording import reading_shown, reason_words, technique_words


@dataclass(frozen=True)
class ReadingLine:
    """One standing reading as it is read out: no withdrawn or replaced ones.

    `pressure_mmhg` is whole or half mmHg, for ``not_occludable`` the cuff pressure reached, else None.
    `shown` is "132 mmHg", "cannot be occluded at 250 mmHg", "no signal" or "not obtained: …".
    """

    reading_id: int
    side: Side
    site: Site
    attempt: int
    outcome: str
    pressure_mmhg: Decimal | None
    reason: str
    shown: str
    technique: str
    technique_words: str
    at: datetime
    by: str
    override: str
    corrected: str
    cuff_width_mm: int | None = None


@dataclass(frozen=True)
class LimbRecord:
    """How one limb was measured: what decides whether it may be compared.

    `toe` is the toe that gave the toe pressure (None: none did). Techniques are codes, "" where not measured.
    `arms` are the arms with a pressure. `toe_skin_celsius` is None where not recorded.
    """

    side: Side
    toe: Site | None
    toe_technique: str
    ankle_technique: str
    toe_skin_celsius: Decimal | None
    absent_toes: frozenset[Site]
    readings: tuple[ReadingLine, ...]


@dataclass(frozen=True)
class ExamRecord:
    """One exam. `on` is the day in the clinic's zone, `at` the first inflation (or the best known time).

    `interpretation` holds the stored findings under `criteria_name` and `criteria_version`, in reading order;
    it is empty where nothing was measured. `rest_minutes` is None where not known; `rest_typed` says that it
    was typed and not timed. A report made before `last_change_at` is out of date.
    """

    exam_id: int
    patient_id: int
    on: date
    at: datetime
    exam_type: str
    type_label: str
    state: str
    state_label: str
    limited: bool
    closed_because: str
    entered_later: bool
    indication: str
    referrer: str
    measured_at: datetime | None
    measured_by: str
    arms: frozenset[Side]
    right: LimbRecord
    left: LimbRecord
    conditions: tuple[tuple[str, str], ...]
    rest_minutes: int | None
    rest_typed: bool
    criteria_name: str
    criteria_version: str
    interpretation: Interpretation
    last_change_at: datetime
    # The file and row of an exam that came in with a table; empty for one of this service.
    imported_from: str = ""

    def limb(self, side: Side) -> LimbRecord:
        """The record of one side."""
        return self.right if side is Side.RIGHT else self.left


def limb_history(
    person: Person,
    patient: Patient,
    *,
    measures: Collection[str] | None = None,
    known_at: datetime | None = None,
) -> list[ExamRecord]:
    """Every exam of a patient, the oldest first; six queries, whatever the number of exams.

    `measures` leaves out the findings of every other measure, where only a few are drawn. With `known_at`,
    the record as it stood then: exams, readings and conditions entered later are left out, a value corrected
    later stands as it was, and what that changes is computed again by the criteria of the exam.
    """
    exams = exams_of(person, patient)
    return _history(exams, measures, known_at)


def whole_history(
    patient: Patient, *, measures: Collection[str] | None = None, only: Collection[int] | None = None
) -> list[ExamRecord]:
    """The same of the record as it stands, for what is kept of it: the clinic's own, whoever looks.

    With `only`, the exams of those numbers alone.
    """
    exams = exams_on_record(patient, only)
    return _history(exams, measures, None, people_once=True, whole_history=only is None)


@dataclass(frozen=True)
class ExamStamp:
    """An exam on record. `stamp` is another one as soon as anything is that its `ExamRecord` is made of.

    Readings and conditions are only ever added, findings stored anew: their newest numbers and how many there
    are stand in it, beside what is typed of the exam itself. Names of people and cautions do not.
    """

    exam_id: int
    at: datetime
    state: str
    stamp: str


def stamps_of(patient: Patient) -> list[ExamStamp]:
    """The stamps of all exams on record, the oldest first; two queries."""
    rows = exams_on_record_rows(patient).values_list(
        "pk",
        "first_inflation_at",
        "booked_for",
        "state",
        "lying_flat_at",
        "exam_type",
        "limited",
        "entered_later",
        "imported_from",
        "criteria",
        "criteria_version",
    )
    counted = [
        model._base_manager.filter(exam__patient=patient)
        .order_by()
        .values_list("exam_id")
        .annotate(Max("pk"), Count("pk"), which=Value(which))
        for which, model in enumerate((Reading, Preparation, Result))
    ]
    newest: dict[int, list[tuple[int, int, int]]] = {}
    for exam_id, number, count, which in counted[0].union(*counted[1:], all=True):
        newest.setdefault(exam_id, []).append((which, number, count))
    stamps = [
        ExamStamp(row[0], row[1] or row[2], row[3], _hashed(*row[1:], *sorted(newest.get(row[0], ()))))
        for row in rows
    ]
    return sorted(stamps, key=lambda one: (one.at, one.exam_id))


def _hashed(*parts: object) -> str:
    return sha256("\t".join(map(str, parts)).encode()).hexdigest()[:40]


def _history(
    exams: list[Exam],
    measures: Collection[str] | None,
    known_at: datetime | None,
    *,
    people_once: bool = False,
    whole_history: bool = True,
) -> list[ExamRecord]:
    found = stored_interpretations(exams, measures)
    charts = charts_of(exams, whole_history=whole_history, people_once=people_once)
    if known_at is None:
        records = [_record(chart, found[chart.exam.pk]) for chart in charts]
    else:
        begun = (chart for chart in charts if chart.exam.created_at <= known_at)
        records = [_record_as_known(chart, found[chart.exam.pk], known_at) for chart in begun]
    return sorted(records, key=lambda record: (record.at, record.exam_id))


def _record_as_known(chart: Chart, found: Interpretation, known_at: datetime) -> ExamRecord:
    then = replace(
        chart,
        readings=tuple(row for row in chart.readings if row.entered_at <= known_at),
        preparations=tuple(row for row in chart.preparations if row.entered_at <= known_at),
    )
    if (len(then.readings), len(then.preparations)) == (len(chart.readings), len(chart.preparations)):
        return _record(chart, found)
    if not then.standing:
        return _record(then, replace(found, findings=()))
    criteria = load_criteria(chart.exam.criteria, chart.exam.criteria_version)
    return _record(then, interpret(measured_exam(then), criteria, context_of(then)))


def state_words(exam: Exam) -> str:
    """The state as it is shown: nobody of this clinic measured what came in with a table."""
    if exam.imported_from and exam.state == ExamState.MEASURED:
        return "imported"
    return str(exam.get_state_display())


def _record(chart: Chart, found: Interpretation) -> ExamRecord:
    exam = chart.exam
    minutes, typed = chart.rest
    return ExamRecord(
        exam_id=exam.pk,
        patient_id=exam.patient_id,
        on=chart.on,
        at=moment_of(exam),
        exam_type=exam.exam_type,
        type_label=str(exam.get_exam_type_display()),
        state=exam.state,
        state_label=state_words(exam),
        limited=exam.limited,
        closed_because=exam.closed_because,
        entered_later=exam.entered_later,
        indication=indication_words(exam),
        referrer=exam.referrer,
        measured_at=exam.measured_at,
        measured_by=exam.measured_by.full_name if exam.measured_by else exam.imported_from,
        arms=frozenset(Side(side) for side in SIDES if chart.pressures(side, "arm")),
        right=_limb(chart, "right"),
        left=_limb(chart, "left"),
        conditions=_conditions(chart),
        rest_minutes=minutes,
        rest_typed=typed,
        criteria_name=exam.criteria,
        criteria_version=exam.criteria_version,
        interpretation=found,
        last_change_at=_last_change(chart, exam),
        imported_from=exam.imported_from,
    )


def _limb(chart: Chart, side: str) -> LimbRecord:
    toe = next((site for site in TOE_SITES if _measured(chart, side, site)), None)
    ankle = next((site for site in ANKLE_SITES if _measured(chart, side, site)), None)
    return LimbRecord(
        side=Side(side),
        toe=Site(toe) if toe else None,
        toe_technique=_measured(chart, side, toe)[0].technique if toe else "",
        ankle_technique=_measured(chart, side, ankle)[0].technique if ankle else "",
        toe_skin_celsius=chart.number(f"{side}_toe_celsius"),
        absent_toes=frozenset(Site(toe) for toe in chart.lost(side) if toe in TOE_SITES),
        readings=tuple(
            _line(chart, place, row)
            for place, row in sorted(chart.standing.items(), key=lambda item: _in_reading_order(item[0]))
            if place.side == side
        ),
    )


def _measured(chart: Chart, side: str, site: str) -> list[Reading]:
    return [row for row in chart.attempts(side, site) if row.outcome != Outcome.NOT_OBTAINED]


def _in_reading_order(place: Place) -> tuple[int, int]:
    sites = ("arm", *ANKLE_SITES, *TOE_SITES)
    return (sites.index(place.site), place.attempt)


def _line(chart: Chart, place: Place, row: Reading) -> ReadingLine:
    before = next((one for one in chart.readings if one.pk == row.replaces_id), None)
    corrected = ""
    if before is not None and row.replaced_because:
        was = reading_shown(before.outcome, before.pressure_mmhg, before.reason, before.reason_text)
        corrected = f"first read as {was}; corrected by {row.entered_by.full_name}: {row.replaced_because}"
    override = f"{row.override_because} ({row.override_by.full_name})" if row.override_by else ""
    return ReadingLine(
        reading_id=row.pk,
        side=Side(place.side),
        site=Site(place.site),
        attempt=place.attempt,
        outcome=row.outcome,
        pressure_mmhg=row.pressure_mmhg,
        reason=reason_words(row.reason, row.reason_text) if row.reason else "",
        shown=reading_shown(row.outcome, row.pressure_mmhg, row.reason, row.reason_text),
        technique=row.technique,
        technique_words=technique_words(row.technique),
        cuff_width_mm=row.cuff_width_mm,
        # When a value copied from paper was measured is only known for the exam as a whole.
        at=moment_of(chart.exam) if chart.exam.entered_later else row.typed_at,
        by=row.entered_by.full_name,
        override=override,
        corrected=corrected,
    )


def _conditions(chart: Chart) -> tuple[tuple[str, str], ...]:
    """Label and words of every condition recorded, in the order asked."""
    said = []
    for item in PreparationItem:
        value = chart.condition(item)
        if value:
            unit = LIMITS[item].unit if item in LIMITS else ""
            words = CHOICES.get(item, {}).get(value, value)
            label = str(item.label).removesuffix(f", {unit}").removesuffix(", minutes, as typed")
            # "since tobacco: 3 hours": the unit stands with the number.
            said.append((label.removeprefix(f"{unit} "), f"{words} {unit}".strip()))
    return tuple(said)


def _last_change(chart: Chart, exam: Exam) -> datetime:
    """When anything that the findings rest on was last entered."""
    readings = [row.entered_at for row in chart.readings]
    return max([*readings, *(row.entered_at for row in chart.preparations)], default=exam.created_at)
