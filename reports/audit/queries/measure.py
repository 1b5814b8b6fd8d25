"""One measure in full: its months with the rule of the chart, clinics in a funnel, two periods."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Q

from access.people import Person
from access.permissions import allowed, require
from exams.visits.models import NotObtained
from reports.audit.calendar import Period, Span, year_of
from reports.audit.charts import (
    FUNNEL_LEVELS,
    Point,
    Runs,
    centre_of,
    funnel_limits,
    limits_of,
    runs_of,
)
from reports.audit.definitions import Kind, Measure
from reports.audit.models import Count, Figure
from reports.audit.queries.figures import (
    Shown,
    change_between,
    figures,
    newest_count,
    newest_counts,
    period_before,
    period_of,
    rule_of,
    shown,
    years_to_choose,
)
from reports.audit.queries.rules import rules_now, sees_exact
from reports.audit.statistics import Difference, quartiles_of

# A run chart looks back over this audit year and the one before.
CHART_YEARS = 2
FUNNEL_STEPS = 40


@dataclass(frozen=True)
class Month:
    """One point of the run chart, a month or a quarter; ``low`` and ``high`` are its limits, in percent."""

    figure: Shown
    low: float | None
    high: float | None
    outside: bool


@dataclass(frozen=True)
class RunChart:
    """Points over two audit years; ``span`` is quarter where no month may be shown."""

    months: Sequence[Month]
    centre: float | None
    runs: Runs | None
    span: Span = Span.MONTH

    @property
    def outside(self) -> Sequence[Month]:
        return [one for one in self.months if one.outside]


@dataclass(frozen=True)
class Funnel:
    """Clinics by size; ``curves`` are (size, and low and high of 95 % and of 99.8 %), in percent."""

    points: Sequence[Shown]
    target: float | None
    curves: Sequence[tuple[int, float, float, float, float]]
    places: Mapping[int, str]


@dataclass(frozen=True)
class MeasurePage:
    measure: Measure
    count: Count | None
    period: Period
    now: Shown | None
    chart: RunChart
    funnel: Funnel | None
    codes: Sequence[Shown]
    exact: bool
    may_see_rows: bool
    may_see_people: bool


def measure_page(by: Person, measure: Measure, asked: str = "") -> MeasurePage:
    """Everything about one measure around one period, in the clinic acted in."""
    require(by, "see audit")
    starts_in = rules_now().year_starts_in
    period = period_of(by, asked, starts_in)
    year = year_of(period.first, starts_in)
    # One question for the period in all clinics, and for two years of the clinic acted in.
    counts = newest_counts([year, period_before(year)])
    count = counts.get(year)
    of_here = Q(tally__in=counts.values(), clinic=by.clinic, code="")
    of_period = Q(tally=count, span=period.span, first=period.first)
    asked_for = list(figures(of_here | of_period, measure))
    rule, exact = rule_of(count), sees_exact(by)
    rows = [row for row in asked_for if count and row.tally_id == count.pk and _is_of(period, row)]
    here = [shown(by, row, rule, exact=exact) for row in rows if row.clinic_id == _here(by)]
    return MeasurePage(
        measure=measure,
        count=count,
        period=period,
        now=next((one for one in here if not one.code), None),
        chart=_run_chart(by, measure, counts.values(), [row for row in asked_for if not row.code]),
        # Everybody sees the other clinics, and all together, by the rules of small numbers.
        funnel=_funnel([shown(by, row, rule, exact=exact) for row in rows if not row.code], measure),
        codes=[one for one in here if one.code],
        exact=exact,
        may_see_rows=allowed(by, "see audit rows"),
        may_see_people=measure.by_person and allowed(by, "see audit people"),
    )


def _run_chart(by: Person, measure: Measure, counts: Iterable[Count], rows: Iterable[Figure]) -> RunChart:
    """The months of two audit years, with centre line and limits by the rule."""
    by_span: dict[Span, list[Shown]] = {span: [] for span in Span}
    exact = sees_exact(by)
    rules = {count.pk: rule_of(count) for count in counts}
    for row in rows:
        if row.clinic_id == _here(by):
            by_span[Span(row.span)].append(shown(by, row, rules[row.tally_id], exact=exact))
    months = by_span[Span.MONTH]
    if any(one.of is None for one in months) and all(one.part is None for one in months):
        return replace(_chart(measure, by_span[Span.QUARTER], _whole(by_span)), span=Span.QUARTER)
    return _chart(measure, months, _whole(by_span))


def _whole(by_span: Mapping[Span, Sequence[Shown]]) -> list[Shown]:
    """The years, and the quarters of one that is hidden because it still runs."""
    hidden = {one.period for one in by_span[Span.YEAR] if one.of is None}
    quarters = (
        one
        for one in by_span[Span.QUARTER]
        if any(year.first <= one.period.first < year.end for year in hidden)
    )
    return [*(one for one in by_span[Span.YEAR] if one.of is not None), *quarters]


def _chart(measure: Measure, months: Sequence[Shown], whole: Sequence[Shown]) -> RunChart:
    """The centre line is of whole years or quarters: of the months alone it would lean from hidden ones."""
    if measure.has_values:
        return _chart_of_values(months)
    points = {one.period: _point(one) for one in months}
    seen = [point for point in points.values() if point is not None]
    centre = centre_of([point for one in whole if (point := _point(one)) is not None])
    drawn = [_month(one, points[one.period], centre) for one in months]
    runs = runs_of([point.share for point in seen], centre) if centre is not None else None
    return RunChart(drawn, None if centre is None else 100 * centre, runs)


@dataclass(frozen=True)
class Comparison:
    """Two periods of one measure, and the difference of their shares."""

    measure: Measure
    first: Shown | None
    second: Shown | None
    first_period: Period
    second_period: Period
    difference: Difference | None
    years: Sequence[Period]

    @property
    def sides(self) -> tuple[tuple[Period, Shown | None], tuple[Period, Shown | None]]:
        return (self.first_period, self.first), (self.second_period, self.second)

    @property
    def difference_words(self) -> str:
        if self.difference is None:
            return ""
        parts = (self.difference.difference, self.difference.low, self.difference.high)
        said = [100 * part for part in parts]
        return f"{said[0]:+.1f} ({said[1]:+.1f} to {said[2]:+.1f})"

    @property
    def sentence(self) -> str:
        """What the difference says; nothing is called changed within chance."""
        if self.measure.has_values:
            return "Medians are laid side by side; no interval is given for their difference."
        if self.difference is None:
            return "There is no difference to state: one of the two is hidden, or has nothing to count."
        low, high = self.difference.low, self.difference.high
        if low <= 0 <= high:
            return "Within chance: the interval of the difference holds zero."
        word = "higher" if low > 0 else "lower"
        return f"The later period is {word}, beyond chance."


def comparison(by: Person, measure: Measure, first: str, second: str) -> Comparison:
    """Two periods of the clinic acted in; left out, this quarter and the one before."""
    require(by, "see audit")
    later = period_of(by, second)
    earlier = period_of(by, first) if first else period_before(later)
    if earlier.first > later.first:
        earlier, later = later, earlier
    one, other = (_of_period(by, measure, period) for period in (earlier, later))
    change = change_between(one, other) if other is not None and not measure.has_values else None
    return Comparison(measure, one, other, earlier, later, change, years_to_choose(by))


def words_of_code(code: str) -> str:
    """A code of P09 in the words of the sheet."""
    return str(dict(NotObtained.choices).get(code, code))


def _of_period(by: Person, measure: Measure, period: Period) -> Shown | None:
    count = newest_count(year_of(period.first, rules_now().year_starts_in))
    wanted = Q(tally=count, span=period.span, first=period.first, clinic=by.clinic, code="")
    row = figures(wanted, measure).first()
    return shown(by, row, rule_of(count)) if row is not None else None


def _month(one: Shown, point: Point | None, centre: float | None) -> Month:
    if point is None or centre is None:
        return Month(one, None, None, False)
    low, high = limits_of(centre, point.size)
    # A hair beyond is rounding.
    outside = not low - 1e-9 <= point.share <= high + 1e-9
    return Month(one, 100 * low, 100 * high, outside)


def _chart_of_values(months: Sequence[Shown]) -> RunChart:
    """Medians of the months about their own median; a run chart has no limits."""
    values = [one.values[1] for one in months if one.values is not None]
    counts: dict[float, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    middle = quartiles_of(counts)
    drawn = [Month(one, None, None, False) for one in months]
    if middle is None:
        return RunChart(drawn, None, None)
    return RunChart(drawn, middle.median, runs_of(values, middle.median))


def _point(one: Shown) -> Point | None:
    if one.share is None or one.met is None or not one.of:
        return None
    return Point(one.met, one.of, one.share.deff)


def _funnel(rows: Sequence[Shown], measure: Measure) -> Funnel | None:
    if measure.kind is not Kind.SHARE:
        return None
    clinics = [one for one in rows if one.clinic is not None]
    if len(clinics) < 2:
        return None
    points = [point for one in clinics if (point := _point(one)) is not None]
    together = next((_point(one) for one in rows if one.clinic is None), None)
    target = together.share if together is not None else None
    places = {one.clinic.pk: _place_of(_point(one), target) for one in clinics if one.clinic}
    if target is None or not points or not 0 < target < 1:
        return Funnel(clinics, None if target is None else 100 * target, [], places)
    most = max(point.size for point in points)
    sizes = sorted({max(1, round(most * 1.15 * step / FUNNEL_STEPS)) for step in range(1, FUNNEL_STEPS + 1)})
    curves = []
    for size in sizes:
        low, high = funnel_limits(target, size, FUNNEL_LEVELS[0])
        far_low, far_high = funnel_limits(target, size, FUNNEL_LEVELS[1])
        curves.append((size, 100 * low, 100 * high, 100 * far_low, 100 * far_high))
    return Funnel(clinics, 100 * target, curves, places)


def _place_of(point: Point | None, target: float | None) -> str:
    """Where a clinic lies, by the exact limits of its effective size."""
    if point is None or target is None or not 0 < target < 1:
        return "not stated"
    size = max(1, round(point.size))
    low, high = funnel_limits(target, size, FUNNEL_LEVELS[1])
    if not low <= point.share <= high:
        return "outside the 99.8 % limits"
    low, high = funnel_limits(target, size, FUNNEL_LEVELS[0])
    return "inside the 95 % limits" if low <= point.share <= high else "outside the 95 % limits"


def _is_of(period: Period, row: Figure) -> bool:
    return (row.span, row.first) == (period.span, period.first)


def _here(by: Person) -> Any:
    return by.clinic.pk if by.clinic else None
