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
from reports.audit.counted.rows import Scope, exams
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

# Looked at one by one are so many units of a year at the most: more would not change a design effect.
UNITS_ONE_BY_ONE = 10_000
# Fewer of these patients in a figure, and all are looked at: small numbers of people are never guessed.
LEAST_PEOPLE = 50


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
    values = _values(measure, scope, year) if measure.has_values else {}
    found = _counted(measure, scope, year, step)
    if step > 1 and any(_of_few(_tally_of(counts)) for counts in found.values()):
        found = _counted(measure, scope, year, 1)
    return {
        (period, code): replace(_tally_of(counts), values=values.get(period, {}))
        for (period, code), counts in found.items()
    }


def _tally_of(counts: Mapping[str, int]) -> Tally:
    in_order: list[Any] = [counts[name] for name in _COUNTS]
    return Tally(*in_order)


def step_for(clinic: Clinic, year: Period, now: datetime) -> int:
    """Every how-manieth patient is looked at one by one: all, but in a clinic of very many exams."""
    return max(1, exams(scope_of(clinic, year, now)).count() // UNITS_ONE_BY_ONE)


def _of_few(one: Tally) -> bool:
    """Whether too few of the patients looked at stand behind a figure to say how many there are in all."""
    parts = ((one.met, one.people_met), (one.unmet, one.people_unmet), (one.unknown, one.people_unknown))
    return any(units and people < LEAST_PEOPLE for units, people in parts)


def scope_of(clinic: Clinic, period: Period, now: datetime, holidays: Iterable[date] = ()) -> Scope:
    begin, end = period.moments(clinic.zone)
    return Scope(clinic, begin, end, period.first, period.end, now, frozenset(holidays))


_SUMS = """SUM(met), SUM(unmet), SUM(unknown),
       SUM(CASE WHEN met + unmet > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN met > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN unmet > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN unknown > 0 THEN 1 ELSE 0 END),
       SUM(met), SUM(met + unmet),
       SUM(met * met), SUM(met * (met + unmet)), SUM((met + unmet) * (met + unmet))"""

_MET = """SUM(CASE WHEN u_verdict = 1 THEN 1 ELSE 0 END),
         SUM(CASE WHEN u_verdict = 0 THEN 1 ELSE 0 END),
         SUM(CASE WHEN u_verdict = 2 THEN 1 ELSE 0 END)"""

_ONE_BY_ONE = """
WITH units AS ({units}),
months (patient, code, place, met, unmet, unknown) AS (
  SELECT u_patient, {code}, {month}, {met} FROM units {some} GROUP BY 1, 2, 3),
quarters AS (
  SELECT patient, code, place / 3 AS place, SUM(met) AS met, SUM(unmet) AS unmet, SUM(unknown) AS unknown
  FROM months GROUP BY 1, 2, 3),
years AS (
  SELECT patient, code, 0 AS place, SUM(met) AS met, SUM(unmet) AS unmet, SUM(unknown) AS unknown
  FROM quarters GROUP BY 1, 2)
SELECT 'month', place, code, {sums} FROM months GROUP BY 2, 3
UNION ALL SELECT 'quarter', place, code, {sums} FROM quarters GROUP BY 2, 3
UNION ALL SELECT 'year', place, code, {sums} FROM years GROUP BY 2, 3
ORDER BY 1, 2, 3"""

_ALL_UNITS = "WITH units AS ({units}) SELECT {month}, {code}, {met} FROM units GROUP BY 1, 2"

_Counts = dict[tuple[Period, str], dict[str, int]]


def _counted(measure: Measure, scope: Scope, year: Period, step: int) -> _Counts:
    """What is counted of each period and code, patient by patient for every ``step``-th of them."""
    asked, values, month, ends = _asked(measure, scope, year)
    said = {
        "units": asked,
        "month": month,
        "met": _MET,
        "sums": _SUMS,
        "code": "u_code" if measure.kind is Kind.CODES else "''",
        "some": f"WHERE MOD(u_patient, {step:d}) = 0" if step > 1 else "",
    }
    spans = dict(zip(("month", "quarter", "year"), _by_span(year), strict=True))
    found: _Counts = {
        (spans[span][place], code): dict(zip(_COUNTS, map(int, counts), strict=True))
        for span, place, code, *counts in _rows(_ONE_BY_ONE.format(**said), [*values, *ends])
    }
    if step > 1:
        found = _with_all_units(found, _rows(_ALL_UNITS.format(**said), [*values, *ends]), year)
    return found


def _with_all_units(some: _Counts, months: list[tuple[Any, ...]], year: Period) -> _Counts:
    """The same with every unit in the counts, from those of the months."""
    found: _Counts = {}
    spans = _by_span(year)
    for place, code, *counts in months:
        for period in (spans[0][place], spans[1][place // 3], spans[2][0]):
            nothing = {**dict.fromkeys(_COUNTS, 0), **some.get((period, code), {})}
            nothing |= dict.fromkeys(("met", "unmet", "unknown"), 0)
            one = found.setdefault((period, code), nothing)
            for name, count in zip(("met", "unmet", "unknown"), counts, strict=True):
                one[name] += int(count)
    return found


def _values(measure: Measure, scope: Scope, year: Period) -> dict[Period, Counter[float]]:
    """How often each value occurs in each period."""
    months, quarters, whole = _by_span(year)
    found: dict[Period, Counter[float]] = {}
    pairs: Iterable[tuple[int, float, int]]
    if measure.id == IN_WORKING_DAYS:
        pairs = _waited(scope, year)
    else:
        asked, values, month, boundaries = _asked(measure, scope, year)
        statement = (
            f"WITH units AS ({asked}) SELECT {month}, u_value, COUNT(*) FROM units "  # noqa: S608
            "WHERE u_value IS NOT NULL AND u_verdict <> 2 GROUP BY 1, 2"
        )
        halves = 2 if measure.id in IN_HALVES else 1
        rows = _rows(statement, [*values, *boundaries])
        pairs = [(place, value / halves, times) for place, value, times in rows]
    for place, value, times in pairs:
        for period in (months[place], quarters[place // 3], whole[0]):
            found.setdefault(period, Counter())[value] += times
    return found


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
            cursor.execute("SET LOCAL work_mem = '128MB'")
        cursor.execute(statement, values)
        return cursor.fetchall()


def _by_span(year: Period) -> tuple[tuple[Period, ...], tuple[Period, ...], tuple[Period, ...]]:
    periods = periods_of(year)
    return periods[:MONTHS], periods[MONTHS:-1], periods[-1:]
