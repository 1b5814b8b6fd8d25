"""Units counted by the database: by month, quarter and audit year, with what the intervals need.

The question of a measure is written once, for Django; around it stands one statement in SQL that both
databases understand and answer with the same figures.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from operator import add, mul
from typing import Any

from django.db import connection, models, transaction

from access.models import Clinic
from reports.audit.calendar import MONTHS, Period, periods_of, working_days
from reports.audit.counted import ALL
from reports.audit.counted.rows import MET, NOT_MET, UNKNOWN, Scope
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
    all of them but where units are very many (`UNITS_ONE_BY_ONE`); ``met_met``, ``met_of``, ``of_of`` the
    sums of squares and products over these patients (`statistics.design_effect`).
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
) -> dict[tuple[Period, str], Tally]:
    """Every period of an audit year in which the measure has a unit, by period and code ("" if without)."""
    scope = scope_of(clinic, year, now, holidays)
    found, values = _counted(measure, scope, year)
    if measure.id == IN_WORKING_DAYS:
        values = _by_period(_waited(scope, year), _by_span(year))
    return {
        (period, code): replace(one, values=values.get(period, {})) for (period, code), one in found.items()
    }


def scope_of(clinic: Clinic, period: Period, now: datetime, holidays: Iterable[date] = ()) -> Scope:
    begin, end = period.moments(clinic.zone)
    return Scope(clinic, begin, end, period.first, period.end, now, frozenset(holidays))


# The units are asked for once and kept, for a verdict may look into other tables. Of them come one row a
# month, patient looked at, verdict, code and value, all other patients together under none; and, unless all
# are looked at, everybody behind a verdict of a month behind which few of those looked at stand.
_COUNTED = """WITH units AS MATERIALIZED (
  SELECT u_patient AS patient, {month} AS month, u_verdict AS verdict{more} FROM ({units}) asked),
counted AS (
  SELECT month, {looked_at} AS patient, verdict, {code} AS code, {value} AS value, COUNT(*) AS times
  FROM units GROUP BY 1, 2, 3{groups}),
few AS (
  SELECT month, verdict, code FROM counted GROUP BY 1, 2, 3
  HAVING COUNT(DISTINCT patient) < {least:d} AND (SELECT COUNT(*) FROM units) > {most:d})
SELECT 0, month, patient, verdict, code, value, times FROM counted
UNION ALL
SELECT 1, few.month, units.patient, few.verdict, few.code, NULL, COUNT(*)
FROM few JOIN units ON units.month = few.month AND units.verdict = few.verdict AND {same_code}
GROUP BY 2, 3, 4, 5"""

# Stirred by two primes: numbers in a row, or every other one, may belong to people of one kind.
_LOOKED_AT = """CASE WHEN MOD(MOD(patient * 7919, 104729),
  (SELECT (COUNT(*) + {most:d} - 1) / {most:d} FROM units)) = 0 THEN patient END"""

_Key = tuple[Period, str]
_Row = tuple[int, int | None, int, str, int | None, int]
_Values = dict[Period, Counter[float]]


def _counted(measure: Measure, scope: Scope, year: Period) -> tuple[dict[_Key, Tally], _Values]:
    """What is counted of each period and code, and the values."""
    asked, values, month, ends = _asked(measure, scope, year)
    coded, valued = measure.kind is Kind.CODES, measure.has_values
    statement = _COUNTED.format(
        units=asked,
        month=month,
        more=", u_code AS code" * coded + ", u_value AS value" * valued,
        looked_at=_LOOKED_AT.format(most=UNITS_ONE_BY_ONE),
        code="code" if coded else "''",
        value="value" if valued else "NULL",
        groups=", 4" * coded + ", 5" * valued,
        same_code="units.code = few.code" if coded else "1 = 1",
        least=LEAST_PEOPLE,
        most=UNITS_ONE_BY_ONE,
    )
    some: list[_Row] = []
    of_few: list[_Row] = []
    for is_of_few, *row in _rows(statement, [*ends, *values]):
        (of_few if is_of_few else some).append(row)  # type: ignore[arg-type]
    spans = _by_span(year)
    found, every = _together(some, spans), _together(of_few, spans)
    if every:
        found = {key: _with_all_of_few(one, every.get(key, Tally())) for key, one in found.items()}
    halves = 2 if measure.id in IN_HALVES else 1
    shown = (
        (place, value / halves, times)
        for place, _, verdict, _, value, times in some
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
    for place, patient, verdict, code, _, times in rows:
        for period in (spans[0][place], spans[1][place // 3], spans[2][0]):
            counts = by_patient.setdefault((period, code), {}).setdefault(patient, [0, 0, 0])
            counts[verdict] += times
    return {key: _tally_of(patients) for key, patients in by_patient.items()}


def _tally_of(patients: Mapping[int | None, list[int]]) -> Tally:
    others = patients.get(None, [0, 0, 0])
    some = [counts for patient, counts in patients.items() if patient is not None]
    met, unmet, unknown = ([counts[verdict] for counts in some] for verdict in (MET, NOT_MET, UNKNOWN))
    of = list(map(add, met, unmet))
    some_met, some_of = sum(met), sum(of)
    return Tally(
        met=some_met + others[MET],
        unmet=some_of - some_met + others[NOT_MET],
        unknown=sum(unknown) + others[UNKNOWN],
        people=len(of) - of.count(0),
        people_met=len(met) - met.count(0),
        people_unmet=len(unmet) - unmet.count(0),
        people_unknown=len(unknown) - unknown.count(0),
        some_met=some_met,
        some_of=some_of,
        met_met=_products(met, met),
        met_of=_products(met, of),
        of_of=_products(of, of),
    )


def _products(ones: Iterable[int], others: Iterable[int]) -> int:
    return sum(map(mul, ones, others))


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
    zone = scope.clinic.zone
    pairs = Counter(
        (sent.astimezone(zone).date(), accepted.astimezone(zone).date())
        for _, sent, accepted in accepted_moments(scope)
    )
    return [
        (
            (first.year - year.first.year) * 12 + first.month - year.first.month,
            float(working_days(first, last, scope.holidays)),
            times,
        )
        for (first, last), times in pairs.items()
    ]


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
