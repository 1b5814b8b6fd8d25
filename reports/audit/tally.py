"""Units counted by the database: by month, quarter and audit year, with what the intervals need.

The question of a measure is written once, for Django; around it stands one statement in SQL that both
databases understand and answer with the same figures.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from typing import Any

from django.db import connection, models, transaction

from access.models import Clinic
from reports.audit.calendar import MONTHS, Period, periods_of, working_days
from reports.audit.counted import ALL
from reports.audit.counted.rows import MET, NOT_MET, UNKNOWN, Scope, exams
from reports.audit.counted.times import accepted_moments
from reports.audit.definitions import Kind, Measure

# Of these measures a value is stored in half mmHg and shown in mmHg.
IN_HALVES = ("P07", "P17")
IN_WORKING_DAYS = "T05"


@dataclass(frozen=True)
class Tally:
    """What was counted of one measure in one period (and of one code).

    ``people``, ``people_met``, ``people_unmet``, ``people_unknown``: patients with a unit counted, met, not
    met, not known. ``some_met`` and ``some_of`` are the units of the patients looked at one by one, who are
    all of them but in very large clinics (`step_for`); ``met_met``, ``met_of``, ``of_of`` the sums of squares
    and products over these patients (`statistics.design_effect`).
    """

    met: int = 0
    unmet: int = 0
    unknown: int = 0
    people: int = 0
    people_met: int = 0
    people_unmet: int = 0
    people_unknown: int = 0
    some_met: int = 0
    some_of: int = 0
    met_met: int = 0
    met_of: int = 0
    of_of: int = 0
    values: Mapping[float, int] = field(default_factory=dict)

    @property
    def of(self) -> int:
        return self.met + self.unmet

    def __add__(self, other: "Tally") -> "Tally":
        """Of two clinics, which share no patients."""
        counts = [getattr(self, name) + getattr(other, name) for name in _COUNTS]
        return replace(Tally(*counts), values=Counter(self.values) + Counter(other.values))


_COUNTS = tuple(one.name for one in fields(Tally) if one.name != "values")
# The months, the quarters and the year itself.
_Spans = tuple[tuple[Period, ...], tuple[Period, ...], tuple[Period, ...]]

# Looked at one by one are the patients of so many units of a year at the most: more would not change a
# design effect.
UNITS_ONE_BY_ONE = 10_000
# Fewer of these patients in a figure, and all of it are looked at: small numbers of people are never guessed.
LEAST_PEOPLE = 30
VERDICTS = ("met", "unmet", "unknown")


def tally(
    measure: Measure,
    clinic: Clinic,
    year: Period,
    now: datetime,
    holidays: Iterable[date] = (),
    step: int = 1,
) -> dict[tuple[Period, str], Tally]:
    """Every period of an audit year in which the measure has a unit, by period and code ("" if without).

    ``step``: every how-manieth patient is looked at one by one (`step_for`).
    """
    scope = scope_of(clinic, year, now, holidays)
    found, values = _counted(measure, scope, year, step)
    if measure.id == IN_WORKING_DAYS:
        values = _by_period(_waited(scope, year), _by_span(year))
    return {
        (period, code): replace(one, values=values.get(period, {})) for (period, code), one in found.items()
    }


def step_for(clinic: Clinic, year: Period, now: datetime) -> int:
    """Every how-manieth patient is looked at one by one: all, but in a clinic of very many exams."""
    return max(1, exams(scope_of(clinic, year, now)).count() // UNITS_ONE_BY_ONE)


def scope_of(clinic: Clinic, period: Period, now: datetime, holidays: Iterable[date] = ()) -> Scope:
    begin, end = period.moments(clinic.zone)
    return Scope(clinic, begin, end, period.first, period.end, now, frozenset(holidays))


# One row a month, code, patient looked at, verdict and value; the other patients stand together under none.
# A verdict asks other tables: it stands here once, for each mention of it is asked apart.
_UNITS = """WITH units AS {kept} ({units})
SELECT {month}, {code}, {patient}, u_verdict, {value}, COUNT(*)
FROM units {only} GROUP BY 1, 2, 3, 4, 5"""

# Stirred by two primes: numbers in a row, or every other one, may belong to people of one kind.
_SOME = "CASE WHEN MOD(MOD(u_patient * 7919, 104729), {step:d}) = 0 THEN u_patient END"

_Key = tuple[Period, str]
_Row = tuple[int, str, int | None, int, int | None, int]
_Values = dict[Period, Counter[float]]


def _counted(measure: Measure, scope: Scope, year: Period, step: int) -> tuple[dict[_Key, Tally], _Values]:
    """What is counted of each period and code: one look at all units, a second at those of few people."""
    asked, values, month, ends = _asked(measure, scope, year)
    said = {
        "units": asked,
        "month": month,
        "code": "u_code" if measure.kind is Kind.CODES else "''",
        "value": "u_value" if measure.has_values else "NULL",
        "patient": _SOME.format(step=step) if step > 1 else "u_patient",
    }
    spans = _by_span(year)
    rows: list[_Row] = _rows(_UNITS.format(**said, kept="", only=""), [*values, *ends])
    found = _together(rows, spans)
    few = _of_few(rows, found, spans) if step > 1 else {}
    if few:
        only = " OR ".join(
            f"(u_verdict = {verdict:d} AND ({month}) IN ({', '.join(map(str, sorted(months)))}))"
            for verdict, months in few.items()
        )
        said |= {"patient": "u_patient", "value": "NULL"}
        again = _UNITS.format(**said, kept="MATERIALIZED", only=f"WHERE {only}")
        every = _together(_rows(again, [*values, *ends, *(ends * len(few))]), spans)
        found = {key: _with_all_of_few(one, every.get(key, Tally())) for key, one in found.items()}
    halves = 2 if measure.id in IN_HALVES else 1
    shown = (
        (place, value / halves, times)
        for place, _, _, verdict, value, times in rows
        if value is not None and verdict != UNKNOWN
    )
    return found, _by_period(shown, spans)


def _by_period(values: Iterable[tuple[int, float, int]], spans: _Spans) -> _Values:
    """How often each value occurs in each period, from months, values and how often."""
    found: _Values = {}
    for place, value, times in values:
        for period in (spans[0][place], spans[1][place // 3], spans[2][0]):
            found.setdefault(period, Counter())[value] += times
    return found


def _together(rows: Iterable[_Row], spans: _Spans) -> dict[_Key, Tally]:
    """The tallies of the months, of the quarters and of the year."""
    by_patient: dict[_Key, dict[int | None, list[int]]] = {}
    for place, code, patient, verdict, _, times in rows:
        for period in (spans[0][place], spans[1][place // 3], spans[2][0]):
            counts = by_patient.setdefault((period, code), {}).setdefault(patient, [0, 0, 0])
            counts[verdict] += times
    return {key: _tally_of(patients) for key, patients in by_patient.items()}


def _tally_of(patients: Mapping[int | None, list[int]]) -> Tally:
    met, unmet, unknown = (
        sum(counts[verdict] for counts in patients.values()) for verdict in (MET, NOT_MET, UNKNOWN)
    )
    some = [counts for patient, counts in patients.items() if patient is not None]
    return Tally(
        met=met,
        unmet=unmet,
        unknown=unknown,
        people=sum(one[MET] + one[NOT_MET] > 0 for one in some),
        people_met=sum(one[MET] > 0 for one in some),
        people_unmet=sum(one[NOT_MET] > 0 for one in some),
        people_unknown=sum(one[UNKNOWN] > 0 for one in some),
        some_met=sum(one[MET] for one in some),
        some_of=sum(one[MET] + one[NOT_MET] for one in some),
        met_met=sum(one[MET] ** 2 for one in some),
        met_of=sum(one[MET] * (one[MET] + one[NOT_MET]) for one in some),
        of_of=sum((one[MET] + one[NOT_MET]) ** 2 for one in some),
    )


def _of_few(rows: Iterable[_Row], found: Mapping[_Key, Tally], spans: _Spans) -> dict[int, set[int]]:
    """Verdict to the months in which too few of the patients looked at stand behind it."""
    few: dict[int, set[int]] = {}
    for place, code, _, verdict, _, _ in rows:
        one = found[spans[0][place], code]
        people = {MET: one.people_met, NOT_MET: one.people_unmet, UNKNOWN: one.people_unknown}[verdict]
        if people < LEAST_PEOPLE:
            few.setdefault(verdict, set()).add(place)
    return few


def _with_all_of_few(some: Tally, every: Tally) -> Tally:
    """A tally with all people behind what few stand behind; ``every`` holds these units whole."""
    people = {
        f"people_{name}": getattr(every, f"people_{name}")
        for name in VERDICTS
        if getattr(every, name) == getattr(some, name)
    }
    if (every.met, every.unmet) != (some.met, some.unmet):
        return replace(some, **people)
    sums = ("people", "some_met", "some_of", "met_met", "met_of", "of_of")
    return replace(some, **people, **{name: getattr(every, name) for name in sums})


def _waited(scope: Scope, year: Period) -> list[tuple[int, float, int]]:
    """Month, working days waited, how often: referrals are few, so each pair of days is worked out here."""
    zone, counted = scope.clinic.zone, Counter[tuple[int, float]]()
    for _, sent, accepted in accepted_moments(scope):
        first, last = sent.astimezone(zone).date(), accepted.astimezone(zone).date()
        place = (first.year - year.first.year) * 12 + first.month - year.first.month
        counted[(place, float(working_days(first, last, scope.holidays)))] += 1
    return [(place, value, times) for (place, value), times in counted.items()]


def _asked(measure: Measure, scope: Scope, year: Period) -> tuple[str, Sequence[Any], str, list[Any]]:
    """The units as SQL with its values, and the month of a unit, 0 to 11, with its own."""
    query = ALL[measure.id](scope).query
    asked, values = query.get_compiler(connection=connection).as_sql()
    by_day = not isinstance(_anchor_of(query), models.DateTimeField)
    zone = scope.clinic.zone
    months = _by_span(year)[0]
    month, order = _search(0, MONTHS - 1)
    ends: list[Any]
    if by_day:
        ends = [connection.ops.adapt_datefield_value(months[place].end) for place in order]
    else:
        moments = (months[place].moments(zone)[1] for place in order)
        ends = [connection.ops.adapt_datetimefield_value(moment) for moment in moments]
    return asked, values, month, ends


def _search(first: int, last: int) -> tuple[str, list[int]]:
    """The month of a unit as SQL, halving at every step, and whose ends are its values, in their order."""
    if first == last:
        return str(first), []
    middle = (first + last) // 2
    before, before_ends = _search(first, middle)
    after, after_ends = _search(middle + 1, last)
    case = f"CASE WHEN u_anchor < %s THEN {before} ELSE {after} END"
    return case, [middle, *before_ends, *after_ends]


def _anchor_of(query: Any) -> Any:
    first = query.combined_queries[0] if query.combinator else query
    return first.annotations["u_anchor"].output_field


def _rows(statement: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # Groups of a large year fit into memory; sorting them on the disk takes several times as long.
            cursor.execute("SET LOCAL work_mem = '256MB'")
            # The many branches of a question take longer to compile than compiled code saves.
            cursor.execute("SET LOCAL jit = off")
        cursor.execute(statement, values)
        return cursor.fetchall()


def _by_span(year: Period) -> _Spans:
    periods = periods_of(year)
    return periods[:MONTHS], periods[MONTHS:-1], periods[-1:]
