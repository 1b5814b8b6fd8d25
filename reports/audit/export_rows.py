"""Pseudonymised exams of a year for a file: keyed names, moved days, age bands, nobody alone of a kind."""

import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass
from typing import Any

from exams.hemodynamics import AmputationLevel
from exams.patients.models import FactKind, LimbFact, Patient
from exams.visits.models import Exam, Result
from exams.visits.plan import DONE_STATES, SIDES
from reports.audit.counted.rows import Scope
from reports.audit.export_files import Column, Row
from reports.audit.pseudonyms import Pseudonyms, age_band, wide_age_band

MEASURES = ("ankle_brachial_index", "toe_brachial_index", "ankle_pressure", "toe_pressure")
PEOPLE_AT_A_TIME = 500
LEVELS = [level.value for level in AmputationLevel]
ANY = "*"

MEASURED = tuple(
    column
    for side in SIDES
    for measure in MEASURES
    for column in (
        Column(f"{side}_{measure}", "number", "value, empty where there is none"),
        Column(f"{side}_{measure}_band", "text", "band of the criteria the exam was read with"),
    )
)
COLUMNS = (
    Column("person", "text", "pseudonym of the person, of this export alone"),
    Column("exam", "text", "pseudonym of the exam, of this export alone"),
    Column("measurer", "text", "pseudonym of who measured, of this export alone"),
    Column("day", "text", "day of the exam, moved for each person by one secret number of days"),
    Column("age_band", "text", "at the person's first exam of the year; * where it would tell too much"),
    Column("sex", "text", "as recorded; * where it would tell too much"),
    Column("amputation", "text", "highest level on record, none, or *"),
    Column("ulcer", "text", "whether a wound was open at any exam of the year: yes, no, or *"),
    Column("diabetes", "text", "yes, no or unknown"),
    Column("exam_type", "text", "what was planned"),
    *MEASURED,
)


@dataclass(frozen=True)
class Kind:
    """What somebody could be recognised by: everybody of a released kind has enough others like them."""

    age_band: str
    sex: str
    amputation: str
    ulcer: str

    def wider(self) -> "Kind":
        some = self.amputation if self.amputation in ("none", ANY) else "some"
        return Kind(wide_age_band(self.age_band), self.sex, some, self.ulcer)


HARDLY_ANYTHING = Kind(ANY, ANY, ANY, ANY)


class Plan:
    """Who is released, and as which kind, in the order of their pseudonyms, which says nothing.

    People wait in a file of this process, gone with it, so that a hundred thousand take no more memory than a
    hundred. ``widened`` and ``left_out`` count them.
    """

    def __init__(self, scope: Scope, names: Pseudonyms, least_alike: int) -> None:
        self._people = sqlite3.connect("")
        self._people.execute(
            "CREATE TABLE people "
            "(name TEXT, patient INTEGER, age_band TEXT, sex TEXT, amputation TEXT, ulcer TEXT)"
        )
        for some in _kinds(scope):
            self._people.executemany(
                "INSERT INTO people VALUES (?, ?, ?, ?, ?, ?)",
                [(names.name("person", patient), patient, *astuple(kind)) for patient, kind in some],
            )
        found = self._people.execute(
            "SELECT age_band, sex, amputation, ulcer, COUNT(*) FROM people GROUP BY 1, 2, 3, 4"
        )
        sizes = {Kind(*kind): many for *kind, many in found}
        self.released = alike(sizes, least_alike)
        self.many = sum(sizes[kind] for kind in self.released)
        self.widened = sum(sizes[kind] for kind, told in self.released.items() if told != kind)
        self.left_out = sum(sizes.values()) - self.many

    def some_people(self) -> Iterator[list[tuple[str, int, Kind]]]:
        """Pseudonym, number and kind told of everybody released, some at a time."""
        found = self._people.execute("SELECT * FROM people ORDER BY name")
        while some := found.fetchmany(PEOPLE_AT_A_TIME):
            told = [(name, patient, self.released.get(Kind(*kind))) for name, patient, *kind in some]
            yield [(name, patient, kind) for name, patient, kind in told if kind is not None]


def alike(sizes: Mapping[Kind, int], least: int) -> dict[Kind, Kind]:
    """Each kind as it is told, widened until ``least`` people share it; those never enough are left out.

    ``sizes``: how many people are of each kind.
    """
    released: dict[Kind, Kind] = {}
    left = dict(sizes)
    for widen in (lambda kind: kind, lambda kind: kind.wider(), lambda kind: HARDLY_ANYTHING):
        together: Counter[Kind] = Counter()
        for kind, many in left.items():
            together[widen(kind)] += many
        released |= {kind: widen(kind) for kind in left if together[widen(kind)] >= least}
        left = {kind: many for kind, many in left.items() if kind not in released}
    return released


def rows(scope: Scope, names: Pseudonyms, planned: Plan, tell: Callable[[float], None]) -> Iterator[Row]:
    """The exams of the released people, some people at a time; ``tell`` hears how far it is, 0 to 1."""
    done = 0
    for some in planned.some_people():
        tell(done / max(1, planned.many))
        by_person = exams_of(scope, [patient for _, patient, _ in some])
        results = results_of([exam for exams in by_person.values() for exam in exams])
        for pseudonym, patient, kind in some:
            for exam in by_person[patient]:
                yield _row(exam, pseudonym, kind, names, results.get(exam.pk, {}))
        done += len(some)


def _row(
    exam: Exam, pseudonym: str, kind: Kind, names: Pseudonyms, results: Mapping[tuple[str, str], Result]
) -> Row:
    day = exam.measured_at.astimezone(exam.clinic.zone).date()  # type: ignore[union-attr]
    return (
        pseudonym,
        names.name("exam", exam.pk),
        names.name("user", exam.measured_by_id) if exam.measured_by_id else "",
        names.shifted(exam.patient_id, day).isoformat(),
        kind.age_band,
        kind.sex,
        kind.amputation,
        kind.ulcer,
        exam.patient.diabetes,
        exam.exam_type,
        *measured(results),
    )


def measured(results: Mapping[tuple[str, str], Result]) -> list[Any]:
    """The cells of what was measured: value and band of each measure, RIGHT first."""
    cells: list[Any] = []
    for side in SIDES:
        for measure in MEASURES:
            found = results.get((side, measure))
            value = found.value if found is not None else None
            cells += [None if value is None else float(value), found.band if found is not None else ""]
    return cells


def some_people_of(scope: Scope) -> Iterator[list[int]]:
    """Everybody with an exam in the period, some at a time, by number."""
    last = 0
    found = _exams(scope).order_by("patient").values_list("patient", flat=True).distinct()
    while some := list(found.filter(patient__gt=last)[:PEOPLE_AT_A_TIME]):
        last = some[-1]
        yield some


def _kinds(scope: Scope) -> Iterator[list[tuple[int, Kind]]]:
    for some in some_people_of(scope):
        yield list(_kinds_of(scope, some))


def _kinds_of(scope: Scope, people: Sequence[int]) -> Iterator[tuple[int, Kind]]:
    by_person = exams_of(scope, people)
    lost, wounds = _facts_of(people, FactKind.AMPUTATION), _facts_of(people, FactKind.OPEN_WOUND)
    patients = Patient.objects.in_bulk(people)
    for patient in people:
        days = [
            exam.measured_at.astimezone(scope.clinic.zone).date()  # type: ignore[union-attr]
            for exam in by_person[patient]
        ]
        levels = [fact.level for fact in lost.get(patient, ()) if fact.started_on <= days[-1]]
        ulcer = any(fact.holds_on(day) for fact in wounds.get(patient, ()) for day in days)
        yield (
            patient,
            Kind(
                age_band=age_band(patients[patient].birth_date, days[0]),
                sex=patients[patient].sex,
                amputation=max(levels, key=LEVELS.index, default="none"),
                ulcer="yes" if ulcer else "no",
            ),
        )


def _exams(scope: Scope) -> Any:
    return Exam.objects.filter(
        clinic=scope.clinic,
        state__in=DONE_STATES,
        measured_at__gte=scope.begin,
        measured_at__lt=scope.end,
    )


def exams_of(scope: Scope, people: Sequence[int]) -> dict[int, list[Exam]]:
    found: dict[int, list[Exam]] = {patient: [] for patient in people}
    for exam in (
        _exams(scope)
        .filter(patient__in=people)
        .select_related("patient", "clinic")
        .order_by("measured_at", "pk")
    ):
        found[exam.patient_id].append(exam)
    return found


def results_of(exams: Sequence[Exam]) -> dict[int, dict[tuple[str, str], Result]]:
    found: dict[int, dict[tuple[str, str], Result]] = {}
    rows = Result.objects.filter(exam__in=[exam.pk for exam in exams], measure__in=MEASURES)
    for row in rows.only("exam_id", "limb", "measure", "value", "band"):
        found.setdefault(row.exam_id, {})[row.limb, row.measure] = row
    return found


def _facts_of(people: Sequence[int], kind: str) -> dict[int, list[LimbFact]]:
    found: dict[int, list[LimbFact]] = {}
    standing = LimbFact.objects.filter(patient__in=people, kind=kind, withdrawn_at=None, replaced_by=None)
    for fact in standing:
        found.setdefault(fact.patient_id, []).append(fact)
    return found
