"""Units counted by the database: by month, quarter and audit year, with what the intervals need.

The question of a measure is written once, for Django; around it stands one statement in SQL that both
databases understand and answer with the same figures.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import connection, models

from access.models import Clinic
from reports.audit.calendar import MONTHS, Period, Span, periods_of, working_days
from reports.audit.counted import ALL
from reports.audit.counted.rows import Scope
from reports.audit.counted.times import accepted_moments
from reports.audit.definitions import Measure

# Of these measures a value is stored in half mmHg and shown in mmHg.
IN_HALVES = ("P07", "P17")
IN_WORKING_DAYS = "T05"


@dataclass(frozen=True)
class Tally:
    """What was counted of one measure in one period (and of one code).

    ``people``, ``people_met``, ``people_unmet``: patients with a unit counted, met, not met. ``met_met``,
    ``met_of``, ``of_of``: sums of squares and products over the patients (`statistics.design_effect`).
    """

    met: int = 0
    unmet: int = 0
    unknown: int = 0
    people: int = 0
    people_met: int = 0
    people_unmet: int = 0
    people_unknown: int = 0
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
        return Tally(*counts, values=Counter(self.values) + Counter(other.values))


_COUNTS = (
    "met",
    "unmet",
    "unknown",
    "people",
    "people_met",
    "people_unmet",
    "people_unknown",
    "met_met",
    "met_of",
    "of_of",
)


def tally(
    measure: Measure, clinic: Clinic, year: Period, now: datetime, holidays: Iterable[date] = ()
) -> dict[tuple[Period, str], Tally]:
    """Every period of an audit year in which the measure has a unit, by period and code ("" if without)."""
    scope = scope_of(clinic, year, now)
    months, quarters, whole = _by_span(year)
    found: dict[tuple[Period, str], Tally] = {}
    values = _values(measure, scope, year, frozenset(holidays)) if measure.has_values else {}
    for span, place, code, *counts in _counted(measure, scope, year):
        period = {Span.MONTH: months, Span.QUARTER: quarters, Span.YEAR: whole}[Span(span)][place]
        numbers = [int(number) for number in counts]
        found[(period, code)] = Tally(*numbers, values=values.get(period, {}))
    return found


def scope_of(clinic: Clinic, period: Period, now: datetime) -> Scope:
    begin, end = period.moments(clinic.zone)
    return Scope(clinic, begin, end, period.first, period.end, now)


_SUMS = """SUM(met), SUM(unmet), SUM(unknown),
       SUM(CASE WHEN met + unmet > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN met > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN unmet > 0 THEN 1 ELSE 0 END),
       SUM(CASE WHEN unknown > 0 THEN 1 ELSE 0 END),
       SUM(met * met), SUM(met * (met + unmet)), SUM((met + unmet) * (met + unmet))"""

_STATEMENT = """
WITH units AS ({units}),
months AS (
  SELECT u_patient AS patient, u_code AS code, {month} AS place,
         SUM(CASE WHEN u_verdict = 1 THEN 1 ELSE 0 END) AS met,
         SUM(CASE WHEN u_verdict = 0 THEN 1 ELSE 0 END) AS unmet,
         SUM(CASE WHEN u_verdict = 2 THEN 1 ELSE 0 END) AS unknown
  FROM units GROUP BY 1, 2, 3),
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


def _counted(measure: Measure, scope: Scope, year: Period) -> list[tuple[Any, ...]]:
    asked, values, month, boundaries = _asked(measure, scope, year)
    statement = _STATEMENT.format(units=asked, month=month, sums=_SUMS)
    return _rows(statement, [*values, *boundaries])


def _values(
    measure: Measure, scope: Scope, year: Period, holidays: frozenset[date]
) -> dict[Period, Counter[float]]:
    """How often each value occurs in each period."""
    months, quarters, whole = _by_span(year)
    found: dict[Period, Counter[float]] = {}
    pairs: Iterable[tuple[int, float, int]]
    if measure.id == IN_WORKING_DAYS:
        pairs = _waited(scope, year, holidays)
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


def _waited(scope: Scope, year: Period, holidays: frozenset[date]) -> list[tuple[int, float, int]]:
    """Month, working days waited, how often: referrals are few, so each pair of days is worked out here."""
    zone, counted = scope.clinic.zone, Counter[tuple[int, float]]()
    for _, sent, accepted in accepted_moments(scope):
        first, last = sent.astimezone(zone).date(), accepted.astimezone(zone).date()
        place = (first.year - year.first.year) * 12 + first.month - year.first.month
        counted[(place, float(working_days(first, last, holidays)))] += 1
    return [(place, value, times) for (place, value), times in counted.items()]


def _asked(measure: Measure, scope: Scope, year: Period) -> tuple[str, Sequence[Any], str, list[Any]]:
    """The units as SQL with its values, and the month of a unit, 0 to 11, with its own."""
    query = ALL[measure.id](scope).query
    asked, values = query.get_compiler(connection=connection).as_sql()
    by_day = not isinstance(_anchor_of(query), models.DateTimeField)
    zone = scope.clinic.zone
    ends = [month.end if by_day else month.moments(zone)[1] for month in _by_span(year)[0][:-1]]
    adapt = connection.ops.adapt_datefield_value if by_day else connection.ops.adapt_datetimefield_value
    cases = " ".join(f"WHEN u_anchor < %s THEN {number}" for number in range(MONTHS - 1))
    return asked, values, f"CASE {cases} ELSE {MONTHS - 1} END", [adapt(end) for end in ends]


def _anchor_of(query: Any) -> Any:
    first = query.combined_queries[0] if query.combinator else query
    return first.annotations["u_anchor"].output_field


def _rows(statement: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall()


def _by_span(year: Period) -> tuple[tuple[Period, ...], tuple[Period, ...], tuple[Period, ...]]:
    periods = periods_of(year)
    return periods[:MONTHS], periods[MONTHS:-1], periods[-1:]
