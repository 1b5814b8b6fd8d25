"""Figures as a person may see them: exact for who cares for the clinic's patients, else rounded or hidden."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from access.models import Clinic
from access.people import Person
from access.permissions import NotHere, require
from reports.audit.calendar import SPAN_MONTHS, Period, Span, months_later, periods_of, year_of
from reports.audit.definitions import Kind, Measure, measures
from reports.audit.disclosure import SmallNumbers
from reports.audit.models import Count, Figure
from reports.audit.queries.rules import chosen_measures, rules_now, sees_exact, today_of, year_now
from reports.audit.statistics import Difference, Share, difference_of, share_of

HIDDEN = "*"
# In what steps medians and mean differences are shown. The quarters between two values, and the decimals of a
# mean, tell of how many they are: by the rules of small numbers the steps are wider.
STEP_EXACT = 0.01
STEP_GUARDED = {Kind.MEDIAN: 1.0, Kind.DIFFERENCE: 0.5, Kind.SHARE: 1.0, Kind.CODES: 1.0}
YEARS_BACK = 10


@dataclass(frozen=True)
class Shown:
    """One figure as this person may see it; None is hidden, and no interval is given for what is hidden."""

    measure: Measure
    period: Period
    clinic: Clinic | None
    code: str
    met: int | None
    of: int | None
    unknown: int | None
    share: Share | None
    values: tuple[float, float, float] | None
    within: tuple[tuple[int, int], ...]
    people: int | None
    # Neither hidden nor counted: there was nothing of this kind.
    empty: bool

    @property
    def met_words(self) -> str:
        return HIDDEN if self.met is None else f"{self.met:,}"

    @property
    def of_words(self) -> str:
        return HIDDEN if self.of is None else f"{self.of:,}"

    @property
    def unknown_words(self) -> str:
        return HIDDEN if self.unknown is None else f"{self.unknown:,}"

    @property
    def share_words(self) -> str:
        if self.share is None:
            return "nothing to count" if self.empty else HIDDEN
        return f"{100 * self.share.share:.1f} %"

    @property
    def interval_words(self) -> str:
        if self.share is None:
            return ""
        return f"{100 * self.share.low:.1f} to {100 * self.share.high:.1f}"

    @property
    def answer(self) -> str:
        """The one number of the measure: a share, a median, or a mean difference."""
        if not self.measure.has_values:
            return self.share_words
        if self.values is None:
            return "nothing to count" if self.empty else HIDDEN
        return f"{self.values[1]:g} {self.measure.value}"

    @property
    def answer_interval(self) -> str:
        """With what it is sure: 95 % interval, quartiles, or limits of agreement."""
        if not self.measure.has_values:
            return self.interval_words
        return f"{self.values[0]:g} to {self.values[2]:g}" if self.values else ""

    @property
    def part(self) -> float | None:
        """What a chart draws: a percentage or a median, None for a gap."""
        if self.measure.has_values:
            return self.values[1] if self.values else None
        return 100 * self.share.share if self.share else None


@dataclass(frozen=True)
class Overview:
    """The page of chosen measures in one period, beside the period before."""

    count: Count | None
    year: Period
    period: Period
    periods: Sequence[Period]
    years: Sequence[Period]
    rows: Sequence["OverviewRow"]
    exact: bool

    @property
    def longer(self) -> Period | None:
        """The audit year that ended last, where most figures of a shorter period are hidden."""
        said = [row.now.answer for row in self.rows if not row.now.empty]
        if self.period.span is Span.YEAR or 2 * said.count(HIDDEN) <= len(said):
            return None
        return self.years[1]


@dataclass(frozen=True)
class OverviewRow:
    now: Shown
    before: Shown | None
    # Of the share, if both are known: from the period before to this one.
    change: Difference | None

    @property
    def change_words(self) -> str:
        if self.change is None:
            return ""
        said = [100 * one for one in (self.change.difference, self.change.low, self.change.high)]
        return f"{said[0]:+.1f} ({said[1]:+.1f} to {said[2]:+.1f})"


def overview(by: Person, asked: str = "", everything: bool = False) -> Overview:
    """The chosen measures of the clinic acted in; every counted one if `everything`.

    ``asked`` is a period's key (`Period.key`); what cannot be read is this quarter.
    """
    require(by, "see audit")
    starts_in = rules_now().year_starts_in
    period = period_of(by, asked, starts_in)
    year = year_of(period.first, starts_in)
    listed = measures_shown(by, everything)
    before = period_before(period)
    year_before = year_of(before.first, year.first.month)
    counts = newest_counts([year, year_before])
    count = counts.get(year)
    found = _by_measure(by, count, period, listed)
    earlier = _by_measure(by, counts.get(year_before), before, listed)
    rows = [
        OverviewRow(found[one.id], earlier.get(one.id), change_between(earlier.get(one.id), found[one.id]))
        for one in listed
        if one.id in found
    ]
    return Overview(
        count, year, period, periods_to_choose(by, year), years_to_choose(by, starts_in), rows, sees_exact(by)
    )


def measures_shown(by: Person, everything: bool) -> tuple[Measure, ...]:
    if everything:
        return tuple(one for one in measures().values() if one.is_counted and one.kind is not Kind.CODES)
    return chosen_measures(by.clinic)


def measure_named(name: str) -> Measure:
    """The measure of this id.

    Raises
    ------
    NotHere
        If there is none.
    """
    found = measures().get(name.upper())
    if found is None:
        raise NotHere("no such measure")
    return found


def newest_count(year: Period) -> Count | None:
    return newest_counts([year]).get(year)


def newest_counts(years: Iterable[Period]) -> dict[Period, Count]:
    """The newest whole count of each of these audit years that has one; few are kept of a year."""
    by_first = {year.first: year for year in years}
    whole = Count.objects.filter(year_first__in=by_first, counted_at__isnull=False)
    return {by_first[count.year_first]: count for count in whole.order_by("counted_at", "pk")}


def count_under_way(year: Period) -> Count | None:
    """The newest count of the year that is not whole yet."""
    open_one = Count.objects.filter(year_first=year.first, counted_at=None).select_related("job")
    return open_one.order_by("-pk").first()


def figures(wanted: Q, measure: Measure) -> "QuerySet[Figure]":
    """The stored figures of a measure that are wanted, in the order of pages."""
    found = Figure.objects.filter(wanted, measure=measure.id)
    return found.select_related("clinic").order_by("first", "clinic__name", "code")


def shown(by: Person, row: Figure, rule: SmallNumbers, *, exact: bool | None = None) -> Shown:
    """A figure as ``by`` may see it: exact only of the clinic acted in, for a person with a care role."""
    own = row.clinic_id is not None and by.clinic is not None and row.clinic_id == by.clinic.pk
    full = own and (sees_exact(by) if exact is None else exact)
    return _exactly(row) if full else guarded(row, rule, row.clinic)


def rule_of(count: Count | None) -> SmallNumbers:
    return SmallNumbers(count.threshold, count.base) if count else SmallNumbers()


def change_between(before: Shown | None, now: Shown) -> Difference | None:
    if before is None or before.share is None or now.share is None:
        return None
    return difference_of(before.share, now.share)


def period_of(by: Person, asked: str, starts_in: int | None = None) -> Period:
    """The period of this key; anything else is the first that is shown, a quarter."""
    starts_in = starts_in or rules_now().year_starts_in
    span, _, first = asked.partition("-")
    try:
        period = Period(date.fromisoformat(f"{first}-01"), Span(span))
    except ValueError:
        return _first_shown(by, starts_in)
    year = year_of(period.first, starts_in)
    now = year_now(by, starts_in)
    if year.first < months_later(now.first, -12 * YEARS_BACK) or period.first > now.end:
        return _first_shown(by, starts_in)
    return _aligned(period, year)


def quarter_now(by: Person, starts_in: int | None = None) -> Period:
    year = year_now(by, starts_in)
    return _aligned(Period(today_of(by).replace(day=1), Span.QUARTER), year)


def _first_shown(by: Person, starts_in: int) -> Period:
    """The quarter that runs; for whom its figures are hidden until it is over, the one before."""
    running = quarter_now(by, starts_in)
    return running if sees_exact(by) else period_before(running)


def year_of_period(period: Period) -> Period:
    """The audit year a period lies in."""
    return year_of(period.first, rules_now().year_starts_in)


def period_before(period: Period) -> Period:
    return Period(months_later(period.first, -SPAN_MONTHS[period.span]), period.span)


def periods_to_choose(by: Person, year: Period) -> list[Period]:
    """The year, its quarters and its months, as far as they have begun."""
    begun = [one for one in periods_of(year) if one.first <= today_of(by)]
    order = {Span.YEAR: 0, Span.QUARTER: 1, Span.MONTH: 2}
    return sorted(begun, key=lambda one: (order[one.span], one.first))


def years_to_choose(by: Person, starts_in: int | None = None) -> list[Period]:
    """The audit years to look at, this one first: as far back as the clinic's first exam may lie."""
    year = year_now(by, starts_in)
    return [Period(months_later(year.first, -12 * back), Span.YEAR) for back in range(YEARS_BACK)]


def _aligned(period: Period, year: Period) -> Period:
    """A quarter or year begins where the audit year says."""
    length = SPAN_MONTHS[period.span]
    months = (period.first.year - year.first.year) * 12 + period.first.month - year.first.month
    return Period(months_later(year.first, months // length * length), period.span)


def _by_measure(
    by: Person, count: Count | None, period: Period, listed: Iterable[Measure]
) -> dict[str, Shown]:
    rows = Figure.objects.filter(
        tally=count,
        clinic=by.clinic,
        span=period.span,
        first=period.first,
        code="",
        measure__in=[one.id for one in listed],
    ).select_related("clinic")
    rule, exact = rule_of(count), sees_exact(by)
    return {row.measure: shown(by, row, rule, exact=exact) for row in rows}


def _exactly(row: Figure) -> Shown:
    return _shown(
        row,
        row.clinic,
        met=row.met,
        of=row.of,
        unknown=row.unknown,
        deff=row.deff,
        people=row.people,
        values_hidden=False,
        step=STEP_EXACT,
        within=tuple((int(limit), many) for limit, many in row.within.items()),
    )


def guarded(row: Figure, rule: SmallNumbers, clinic: Clinic | None) -> Shown:
    """A figure by the rules of small numbers: hidden where marked so, rounded else."""
    met = None if row.met_hidden else rule.rounded(row.met)
    of = None if row.of_hidden else rule.rounded(row.of)
    # Rounded apart, a part may come out above its whole.
    return _shown(
        row,
        clinic,
        met=met if met is None or of is None else min(met, of),
        of=of,
        unknown=None if row.unknown_hidden else rule.rounded(row.unknown),
        deff=_coarse_deff(row),
        people=None,
        values_hidden=row.value_hidden or row.of_hidden,
        within=(),
        step=STEP_GUARDED[measures()[row.measure].kind],
    )


def _coarse_deff(row: Figure) -> float:
    """A design effect in halves, rounded up: finer, it would tell of how many units and people it is.

    Where everybody is counted once it is m/(m-1), which tells m; that factor is taken off.
    """
    alone = row.deff * (row.people - 1) / row.people if row.people else 1.0
    return max(1.0, math.ceil(2 * alone - 1e-9) / 2)


def _shown(
    row: Figure,
    clinic: Clinic | None,
    *,
    met: int | None,
    of: int | None,
    unknown: int | None,
    deff: float,
    people: int | None,
    values_hidden: bool,
    within: tuple[tuple[int, int], ...],
    step: float,
) -> Shown:
    low, middle, high = row.low_value, row.middle_value, row.high_value
    values = None
    if not values_hidden and low is not None and middle is not None and high is not None:
        low, middle, high = (round(round(one / step) * step, 2) for one in (low, middle, high))
        values = (low, middle, high)
    return Shown(
        measure=measures()[row.measure],
        period=Period(row.first, Span(row.span)),
        clinic=clinic,
        code=row.code,
        met=met,
        of=of,
        unknown=unknown,
        share=share_of(met, of, deff) if met is not None and of is not None else None,
        values=values,
        within=within,
        people=people,
        empty=of == 0,
    )
