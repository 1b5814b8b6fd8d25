"""Pseudonymised exams of a year for a file: keyed names, no days, age bands, nobody alone of a kind."""

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.db.models import Count

from exams.hemodynamics import AmputationLevel
from exams.patients.models import FactKind, LimbFact
from exams.visits.models import Exam, Result
from exams.visits.plan import DONE_STATES, SIDES
from reports.audit.counted.rows import Scope
from reports.audit.export_files import Column, Row
from reports.audit.pseudonyms import Pseudonyms, age_band, wide_age_band

MEASURES = ("ankle_brachial_index", "toe_brachial_index", "ankle_pressure", "toe_pressure")
PEOPLE_AT_A_TIME = 500
LEVELS = [level.value for level in AmputationLevel]
ANY = "*"
# Days between exams are told in these: two days known of somebody would find them by what lies between.
QUARTER_DAYS = 91

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
    Column("measurer", "text", "pseudonym of who measured, of this export alone; empty of few people"),
    Column(
        "quarters_after_first",
        "whole",
        "whole quarters of a year (of 91 days) since the person's first exam of the year; empty where it "
        "would tell too much",
    ),
    Column("age_band", "text", "at the person's first exam of the year; * where it would tell too much"),
    Column("sex", "text", "as recorded; * where it would tell too much"),
    Column("amputation", "text", "highest level on record at the first exam, none, some, or *"),
    Column("ulcer", "text", "whether a wound was open at the first exam: yes, no, or *"),
    Column("diabetes", "text", "yes, no or unknown; * where it would tell too much"),
    Column("exam_type", "text", "what was planned; * where it would tell too much"),
    *MEASURED,
)


@dataclass(frozen=True)
class Visit:
    """One exam of a person, as far as somebody may know of it without knowing what was measured.

    ``sites`` says which cells of the row hold anything: a leg that is gone shows in what was not measured.
    """

    quarter: int | None
    exam_type: str
    sites: str


@dataclass(frozen=True)
class Kind:
    """What somebody could be recognised by: everybody of a released kind has enough others like them.

    All but the visits is as it stood at the first exam, so that nobody changes kind from one export to the
    next. ``since``, the audit quarter of the first exam, is never told, but whoever holds an export made a
    quarter earlier knows who is new in this one.
    """

    age_band: str
    sex: str
    amputation: str
    ulcer: str
    diabetes: str
    visits: tuple[Visit, ...]
    since: int

    def without_times(self) -> "Kind":
        later = (replace(one, quarter=None) for one in self.visits[1:])
        return replace(self, visits=(self.visits[0], *later))

    def first_visit(self) -> "Kind":
        return replace(self, visits=self.visits[:1])

    def wider(self) -> "Kind":
        some = self.amputation if self.amputation in ("none", ANY) else "some"
        return self._told_as(wide_age_band(self.age_band), self.sex, some, self.ulcer)

    def hardly_anything(self) -> "Kind":
        return self._told_as(ANY, ANY, ANY, ANY)

    def _told_as(self, age_band: str, sex: str, amputation: str, ulcer: str) -> "Kind":
        visit = replace(self.visits[0], exam_type=ANY)
        return Kind(age_band, sex, amputation, ulcer, ANY, (visit,), self.since)


class Plan:
    """Who is released, and as which kind, in the order of their pseudonyms, which says nothing.

    People wait in a file of this process, gone with it, so that a hundred thousand take no more memory than a
    hundred. ``widened`` and ``left_out`` count them.
    """

    def __init__(self, scope: Scope, names: Pseudonyms, least_alike: int) -> None:
        self._people = sqlite3.connect("")
        self._people.execute("CREATE TABLE people (name TEXT, patient INTEGER, kind TEXT)")
        for some in _kinds(scope):
            self._people.executemany(
                "INSERT INTO people VALUES (?, ?, ?)",
                [(names.name("person", patient), patient, _written(kind)) for patient, kind in some],
            )
        found = self._people.execute("SELECT kind, COUNT(*) FROM people GROUP BY 1")
        sizes = {_read(kind): many for kind, many in found}
        self.released = alike(sizes, least_alike)
        self.many = sum(sizes[kind] for kind in self.released)
        self.widened = sum(sizes[kind] for kind, told in self.released.items() if told != kind)
        self.left_out = sum(sizes.values()) - self.many
        by_measurer = _exams(scope).values("measured_by").annotate(people=Count("patient", distinct=True))
        often = by_measurer.filter(people__gte=least_alike, measured_by__isnull=False)
        measurers = often.values_list("measured_by", flat=True)
        self._measurers = {number: names.name("user", number) for number in measurers}

    def measurer_of(self, exam: Exam) -> str:
        """The pseudonym of who measured, nothing of somebody who measured few people."""
        return self._measurers.get(exam.measured_by_id, "")

    def some_people(self) -> Iterator[list[tuple[str, int, Kind]]]:
        """Pseudonym, number and kind told of everybody released, some at a time."""
        found = self._people.execute("SELECT * FROM people ORDER BY name")
        while some := found.fetchmany(PEOPLE_AT_A_TIME):
            told = [(name, patient, self.released.get(_read(kind))) for name, patient, kind in some]
            yield [(name, patient, kind) for name, patient, kind in told if kind is not None]


def _written(kind: Kind) -> str:
    return json.dumps(asdict(kind))


def _read(kind: str) -> Kind:
    said = json.loads(kind)
    return Kind(**{**said, "visits": tuple(Visit(**one) for one in said["visits"])})


def alike(sizes: Mapping[Kind, int], least: int) -> dict[Kind, Kind]:
    """Each kind as it is told, widened until ``least`` people share it; those never enough are left out.

    The first visit decides how widely somebody is told, and so it is the same in every later export. Later
    visits are told where enough people had the same ones. Of two exports one tells of a person a part of
    what the other tells: laid side by side they tell no more than one.

    Parameters
    ----------
    sizes : how many people are of each kind.
    """
    released = _shared(sizes, least, (Kind.first_visit, Kind.wider, Kind.hardly_anything))
    by_first: dict[Kind, dict[Kind, int]] = {}
    for kind, told in released.items():
        if told == kind.first_visit():
            by_first.setdefault(told, {})[kind] = sizes[kind]
    for some in by_first.values():
        released |= _with_visits(some, least)
    return released


def _shared(
    sizes: Mapping[Kind, int], least: int, wider_and_wider: Iterable[Callable[[Kind], Kind]]
) -> dict[Kind, Kind]:
    """Each kind by the first of these ways to tell it that ``least`` people share."""
    released: dict[Kind, Kind] = {}
    left = dict(sizes)
    for widen in wider_and_wider:
        together: Counter[Kind] = Counter()
        for kind, many in left.items():
            together[widen(kind)] += many
        released |= {kind: widen(kind) for kind in left if together[widen(kind)] >= least}
        left = {kind: many for kind, many in left.items() if kind not in released}
    return released


def _with_visits(sizes: Mapping[Kind, int], least: int) -> dict[Kind, Kind]:
    """Of kinds that are alike at the first visit, those whose later visits are told too.

    Nobody else of these, or ``least`` of them, are left with the first one only.
    """
    often = {kind: many for kind, many in sizes.items() if len(kind.visits) > 1}
    told = _shared(often, least, (lambda kind: kind, Kind.without_times))
    groups: dict[Kind, list[Kind]] = {}
    for kind, as_what in told.items():
        groups.setdefault(as_what, []).append(kind)
    left = sum(sizes.values()) - sum(sizes[kind] for kind in told)
    for group in sorted(groups.values(), key=lambda group: sum(sizes[kind] for kind in group)):
        if left == 0 or left >= least:
            break
        for kind in group:
            left += sizes[kind]
            del told[kind]
    return told


def rows(scope: Scope, names: Pseudonyms, planned: Plan, tell: Callable[[float], None]) -> Iterator[Row]:
    """The exams of the released people, some people at a time; ``tell`` hears how far it is, 0 to 1."""
    done = 0
    for some in planned.some_people():
        tell(done / max(1, planned.many))
        by_person = exams_of(scope, [patient for _, patient, _ in some])
        results = results_of([exam for exams in by_person.values() for exam in exams])
        for pseudonym, patient, kind in some:
            for exam, visit in zip(by_person[patient], kind.visits, strict=False):
                yield (
                    pseudonym,
                    names.name("exam", exam.pk),
                    planned.measurer_of(exam),
                    visit.quarter,
                    kind.age_band,
                    kind.sex,
                    kind.amputation,
                    kind.ulcer,
                    kind.diabetes,
                    visit.exam_type,
                    *measured(results.get(exam.pk, {})),
                )
        done += len(some)


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
    results = results_of([exam for exams in by_person.values() for exam in exams])
    for patient in people:
        exams = by_person[patient]
        days = [
            exam.measured_at.astimezone(scope.clinic.zone).date()  # type: ignore[union-attr]
            for exam in exams
        ]
        first, person = days[0], exams[0].patient
        levels = [fact.level for fact in lost.get(patient, ()) if fact.started_on <= first]
        visits = [
            Visit((day - first).days // QUARTER_DAYS, exam.exam_type, sites_of(results.get(exam.pk, {})))
            for exam, day in zip(exams, days, strict=True)
        ]
        yield (
            patient,
            Kind(
                age_band=age_band(person.birth_date, first),
                sex=person.sex,
                amputation=max(levels, key=LEVELS.index, default="none"),
                ulcer="yes" if any(fact.holds_on(first) for fact in wounds.get(patient, ())) else "no",
                diabetes=person.diabetes,
                visits=tuple(visits),
                since=((first.year - scope.first.year) * 12 + first.month - scope.first.month) // 3,
            ),
        )


def sites_of(results: Mapping[tuple[str, str], Result]) -> str:
    """Which cells of what was measured hold a value or a band, one letter each."""
    places = ((side, measure) for side in SIDES for measure in MEASURES)
    found = (results.get(place) for place in places)
    return "".join("x" if one is not None and (one.value is not None or one.band) else "-" for one in found)


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
