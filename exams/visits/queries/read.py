"""One exam as its sheet reads it, with the last few before it: a fixed number of queries."""

import json
from collections.abc import Collection, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache, partial
from typing import Any, NamedTuple

from django.db.models import DateTimeField, IntegerField, Q, TextField
from django.db.models.functions import Cast

from access.models import Clinic, User
from access.prepared import Given, Prepared, every_column, stored
from exams.hemodynamics import Finding, Interpretation
from exams.patients.models import Caution, Identifier, LimbFact, Patient
from exams.visits.models import Exam, ExamState, Outcome, Preparation, PreparationItem, Reading, Result
from exams.visits.plan import ANKLE_SITES, DONE_STATES
from exams.visits.queries.chart import FLOW, Chart, fact_counts, moment_of

# How many earlier exams are looked through for one that may be compared.
LOOK_BACK = 4
# How many exams are drawn together: the newest of either limb.
MOST_DRAWN = 2
# The findings that a comparison rests on; the others of an earlier exam stay in the database.
COMPARED = ("ankle_brachial_index", "ankle_pressure", "toe_pressure", "position", "arm_used")
_TOE_SKIN = {PreparationItem.RIGHT_TOE_CELSIUS: "right", PreparationItem.LEFT_TOE_CELSIUS: "left"}


class PastReading(NamedTuple):
    """A reading of an earlier exam that stands."""

    outcome: str
    pressure_mmhg: Decimal | None
    technique: str
    cuff_width_mm: int | None


@dataclass(frozen=True)
class Earlier:
    """What an earlier exam found: its standing readings by side and site, in the order of attempts.

    `on` is the day in the clinic's zone; `toe_celsius` the skin of each side's toe where it was recorded.
    """

    exam_id: int
    on: date
    readings: Mapping[tuple[str, str], Sequence[PastReading]]
    toe_celsius: Mapping[str, Decimal]
    found: Interpretation

    def attempts(self, side: str, site: str) -> Sequence[PastReading]:
        """What stands at a site."""
        return self.readings.get((side, site), ())

    def pressures(self, side: str, site: str) -> list[Decimal]:
        return [
            row.pressure_mmhg
            for row in self.attempts(side, site)
            if row.outcome == Outcome.PRESSURE and row.pressure_mmhg is not None
        ]


@dataclass(frozen=True)
class Read:
    """An exam with its stored findings, and the last few measured exams before it, the newest first."""

    chart: Chart
    found: Interpretation
    earlier: Sequence[Earlier]


_EXAM = every_column(Exam)
_PATIENT = every_column(Patient)
_exam = Prepared(
    lambda: Exam.objects.filter(clinic_id=Given("clinic", IntegerField()), pk=Given("exam", IntegerField())),
    *_EXAM,
    *(f"patient__{name}" for name in _PATIENT),
    "measured_by__full_name",
    "identity_confirmed_by__full_name",
)
_before = Prepared(
    lambda: (
        Exam.objects.filter(
            patient_id=Given("patient", IntegerField()),
            state__in=DONE_STATES,
            first_inflation_at__lt=Given("moment", DateTimeField()),
        )
        .exclude(pk=Given("exam", IntegerField()))
        .order_by("-first_inflation_at", "-pk")[:LOOK_BACK]
    ),
    "pk",
    "first_inflation_at",
    "criteria",
    "criteria_version",
)
_readings = Prepared(
    lambda: Reading.objects.filter(exam_id__in=Given("exams", IntegerField(), MOST_DRAWN)).order_by("pk"),
    "id",
    "exam_id",
    "side",
    "site",
    "attempt",
    "outcome",
    "pressure_mmhg",
    "reason",
    "reason_text",
    "technique",
    "cuff_width_mm",
    "override_because",
    "override_by_id",
    "typed_at",
    "entered_by_id",
    "withdrawn",
    "replaces_id",
    "replaced_because",
    "entered_by__full_name",
    "override_by__full_name",
)
_past_readings = Prepared(
    lambda: Reading.objects.filter(
        exam_id__in=Given("exams", IntegerField(), LOOK_BACK), withdrawn=False, replaced_by=None
    ).order_by("attempt"),
    "exam_id",
    "side",
    "site",
    "outcome",
    "pressure_mmhg",
    "technique",
    "cuff_width_mm",
)
_preparations = Prepared(
    lambda: Preparation.objects.filter(
        Q(exam_id=Given("exam", IntegerField())) | Q(item__in=[*_TOE_SKIN]),
        exam_id__in=Given("exams", IntegerField(), LOOK_BACK + 1),
    ).order_by("pk"),
    "id",
    "exam_id",
    "item",
    "value",
    "typed_at",
    "entered_by_id",
    "replaces_id",
    "replaced_because",
    "entered_by__full_name",
)
_results = Prepared(
    # In the order stored, which is the order in which the core wants them read.
    lambda: (
        Result.objects.filter(
            Q(exam_id=Given("exam", IntegerField())) | Q(measure__in=COMPARED),
            exam_id__in=Given("exams", IntegerField(), LOOK_BACK + 1),
        )
        .annotate(said=Cast("finding", TextField()))
        .order_by("pk")
    ),
    "exam_id",
    "criteria_hash",
    "said",
)
_drawn = Prepared(
    lambda: Exam.objects.filter(
        patient_id=Given("patient", IntegerField()), pk__in=Given("exams", IntegerField(), MOST_DRAWN)
    ),
    "id",
    "patient_id",
    "exam_type",
    "booked_for",
    "first_inflation_at",
    "criteria",
    "criteria_version",
)
_pressures = Prepared(
    lambda: (
        Result.objects.filter(
            exam_id__in=Given("exams", IntegerField(), MOST_DRAWN), measure__endswith="_pressure"
        )
        .annotate(said=Cast("finding", TextField()))
        .order_by("pk")
    ),
    "exam_id",
    "criteria_hash",
    "said",
)
_CAUTION = every_column(Caution)
_cautions = Prepared(
    lambda: Caution.objects.filter(patient_id=Given("patient", IntegerField())).order_by("pk"), *_CAUTION
)
_FACT = every_column(LimbFact)
_facts = Prepared(
    lambda: LimbFact.objects.filter(
        patient_id=Given("patient", IntegerField()), replaced_by=None, withdrawn_at=None
    ).order_by("pk"),
    *_FACT,
)


_numbers = Prepared(
    lambda: Identifier.objects.filter(
        patient_id=Given("patient", IntegerField()), withdrawn_at=None
    ).order_by("pk"),
    "issuer",
    "value",
)


def exam_of(clinic: Clinic, exam_id: int) -> Exam | None:
    """The exam of that number in a clinic, with its patient and the names of who measured; one query."""
    for row in _exam.rows(clinic=clinic.pk, exam=exam_id):
        of_exam, of_patient = row[: len(_EXAM)], row[len(_EXAM) : -2]
        patient = stored(Patient, zip(_PATIENT, of_patient, strict=True), clinic=clinic)
        exam = stored(Exam, zip(_EXAM, of_exam, strict=True), patient=patient, clinic=clinic)
        exam.measured_by = _named(exam.measured_by_id, row[-2])
        exam.identity_confirmed_by = _named(exam.identity_confirmed_by_id, row[-1])
        return exam
    return None


def numbers_in_use(patient_id: int) -> list[tuple[str, str]]:
    """Issuer and value of the identifiers of a patient, in the order given; one query."""
    return [(issuer, value) for issuer, value in _numbers.rows(patient=patient_id)]


def read(exam: Exam) -> Read:
    """Everything that the sheet of an exam rests on: seven queries.

    One more where something happened to a limb after the exam.
    """
    before = _before.rows(patient=exam.patient_id, moment=moment_of(exam), exam=exam.pk)
    numbers = [number for number, *_ in before] or [0]
    people: dict[int | None, User | None] = {None: None}
    readings = tuple(_reading(row, people) for row in _readings.rows(exams=[exam.pk]))
    preparations = [
        _preparation(row, people) for row in _preparations.rows(exam=exam.pk, exams=[exam.pk, *numbers])
    ]
    findings = _findings_of(exam.pk, numbers)
    zone = exam.clinic.zone
    skin = _skin(preparations)
    past = _past(numbers) if before else {}
    return Read(
        chart=_chart(exam, readings, tuple(one for one in preparations if one.exam_id == exam.pk)),
        found=_interpretation(exam.criteria, exam.criteria_version, findings.get(exam.pk, ())),
        earlier=tuple(
            Earlier(
                exam_id=number,
                on=at.astimezone(zone).date(),
                readings=past.get(number, {}),
                toe_celsius=skin.get(number, {}),
                found=_interpretation(criteria, version, findings.get(number, ())),
            )
            for number, at, criteria, version in before
        ),
    )


def read_to_draw(patient: Patient, exam_ids: Collection[int]) -> list[tuple[Chart, Interpretation]]:
    """One or two exams of a patient as their ladders are drawn; four queries.

    Without conditions and cautions, which no ladder shows. One query more where something happened to a limb
    after an exam.
    """
    if not exam_ids:
        return []
    numbers = sorted(exam_ids)
    people: dict[int | None, User | None] = {None: None}
    readings = [_reading(row, people) for row in _readings.rows(exams=numbers)]
    found = _by_exam(_pressures.rows(exams=numbers))
    facts = _facts_of(patient.pk)
    drawn = []
    for row in _drawn.rows(patient=patient.pk, exams=numbers):
        exam = stored(Exam, zip(_drawn.columns, row, strict=True), patient=patient, clinic=patient.clinic)
        own = tuple(one for one in readings if one.exam_id == exam.pk)
        chart = _chart_of(exam, own, (), (), facts)
        findings = _interpretation(exam.criteria, exam.criteria_version, found.get(exam.pk, ()))
        drawn.append((chart, findings))
    return drawn


def _chart(exam: Exam, readings: tuple[Reading, ...], preparations: tuple[Preparation, ...]) -> Chart:
    patient = exam.patient_id
    cautions = [stored(Caution, zip(_CAUTION, row, strict=True)) for row in _cautions.rows(patient=patient)]
    return _chart_of(exam, readings, preparations, cautions, _facts_of(patient))


def _facts_of(patient_id: int) -> list[LimbFact]:
    return [stored(LimbFact, zip(_FACT, row, strict=True)) for row in _facts.rows(patient=patient_id)]


def _chart_of(
    exam: Exam,
    readings: tuple[Reading, ...],
    preparations: tuple[Preparation, ...],
    cautions: Sequence[Caution],
    facts: Sequence[LimbFact],
) -> Chart:
    moment = moment_of(exam)
    on = moment.astimezone(exam.clinic.zone).date()
    # Only what began after the exam asks when the next one was.
    later = any(fact.started_on > on for fact in facts)
    next_on = _next_on(exam, moment) if later else None
    return Chart(
        exam=exam,
        on=on,
        readings=readings,
        preparations=preparations,
        cautions=tuple(one for one in cautions if one.in_force_on(on)),
        facts=tuple(fact for fact in facts if fact_counts(fact, on, next_on)),
        flows=partial(_flows_before, exam, moment),
        earlier=frozenset({0}),
    )


def _next_on(exam: Exam, moment: datetime) -> date | None:
    """The day of the next exam of the patient in which a cuff was inflated."""
    later = Exam.objects.filter(patient_id=exam.patient_id, first_inflation_at__gt=moment)
    newest = later.exclude(state=ExamState.IN_ERROR).order_by("first_inflation_at")
    at = newest.values_list("first_inflation_at", flat=True).first()
    return at.astimezone(exam.clinic.zone).date() if at else None


def _flows_before(exam: Exam, moment: datetime) -> Set[tuple[int, str]]:
    """Sides at whose ankle an exam before this one found flow, all as of one exam."""
    standing = Reading.objects.exclude(exam__state=ExamState.IN_ERROR).filter(
        exam__patient_id=exam.patient_id,
        exam__first_inflation_at__lt=moment,
        site__in=ANKLE_SITES,
        outcome__in=FLOW,
        withdrawn=False,
        replaced_by=None,
    )
    return {(0, side) for side in standing.values_list("side", flat=True).distinct()}


def _reading(row: Sequence[Any], people: dict[int | None, User | None]) -> Reading:
    columns = dict(zip(_readings.columns, row, strict=True))
    entered, overridden = columns.pop("entered_by__full_name"), columns.pop("override_by__full_name")
    return stored(
        Reading,
        columns,
        entered_by=_person(people, columns["entered_by_id"], entered),
        override_by=_person(people, columns["override_by_id"], overridden),
    )


def _preparation(row: Sequence[Any], people: dict[int | None, User | None]) -> Preparation:
    columns = dict(zip(_preparations.columns, row, strict=True))
    entered = columns.pop("entered_by__full_name")
    return stored(Preparation, columns, entered_by=_person(people, columns["entered_by_id"], entered))


def _person(people: dict[int | None, User | None], number: int | None, name: str | None) -> User | None:
    """Who has that number, of whom only the name is read; the same person every time."""
    if number not in people:
        people[number] = _named(number, name)
    return people[number]


def _named(number: int | None, name: str | None) -> User | None:
    return None if number is None else stored(User, {"id": number, "full_name": name})


def _past(numbers: Sequence[int]) -> dict[int, dict[tuple[str, str], list[PastReading]]]:
    found: dict[int, dict[tuple[str, str], list[PastReading]]] = {}
    for number, side, site, *row in _past_readings.rows(exams=numbers):
        found.setdefault(number, {}).setdefault((side, site), []).append(PastReading(*row))
    return found


def _skin(preparations: Iterable[Preparation]) -> dict[int, dict[str, Decimal]]:
    """The newest toe temperature of each exam and side; one taken back is none."""
    typed = {
        (one.exam_id, _TOE_SKIN[PreparationItem(one.item)]): one.value
        for one in preparations
        if one.item in _TOE_SKIN
    }
    found: dict[int, dict[str, Decimal]] = {}
    for (number, side), value in typed.items():
        if value:
            found.setdefault(number, {})[side] = Decimal(value)
    return found


def _findings_of(exam_id: int, before: Sequence[int]) -> dict[int, list[tuple[str, Finding]]]:
    return _by_exam(_results.rows(exam=exam_id, exams=[exam_id, *before]))


def _by_exam(rows: Sequence[Sequence[Any]]) -> dict[int, list[tuple[str, Finding]]]:
    found: dict[int, list[tuple[str, Finding]]] = {}
    for number, criteria_hash, said in rows:
        found.setdefault(number, []).append((criteria_hash, _finding(said)))
    return found


# With every value typed the same findings of the earlier exams are asked for; about 10 MB at the most.
@lru_cache(maxsize=4096)
def _finding(said: str) -> Finding:
    return Finding.from_json(json.loads(said))


def _interpretation(criteria: str, version: str, findings: Sequence[tuple[str, Finding]]) -> Interpretation:
    return Interpretation(
        criteria_name=criteria,
        criteria_version=version,
        criteria_hash=findings[0][0] if findings else "",
        findings=tuple(finding for _, finding in findings),
    )
