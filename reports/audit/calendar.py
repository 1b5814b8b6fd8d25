"""Months, quarters and audit years on a clinic's wall calendar, and its working days. Pure."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

SATURDAY = 5
MONTHS = 12


class Span(StrEnum):
    MONTH = "month"
    QUARTER = "quarter"
    YEAR = "year"


SPAN_MONTHS = {Span.MONTH: 1, Span.QUARTER: 3, Span.YEAR: 12}


@dataclass(frozen=True, order=True)
class Period:
    """A month, quarter or audit year, from its first day; the end is not part of it."""

    first: date
    span: Span

    @property
    def end(self) -> date:
        return months_later(self.first, SPAN_MONTHS[self.span])

    @property
    def words(self) -> str:
        last = self.end - timedelta(days=1)
        if self.span is Span.MONTH:
            return f"{self.first:%b %Y}"
        return f"{self.first:%b %Y} to {last:%b %Y}"

    @property
    def key(self) -> str:
        """As it stands in an address: ``quarter-2026-04``."""
        return f"{self.span}-{self.first:%Y-%m}"

    def moments(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        return moment_of(self.first, zone), moment_of(self.end, zone)


def year_of(day: date, starts_in: int) -> Period:
    """The audit year that holds ``day``; ``starts_in`` is the month it starts in, 1 to 12."""
    year = day.year if day.month >= starts_in else day.year - 1
    return Period(date(year, starts_in, 1), Span.YEAR)


def periods_of(year: Period) -> tuple[Period, ...]:
    """The twelve months, the four quarters and the year itself."""
    months = tuple(Period(months_later(year.first, number), Span.MONTH) for number in range(MONTHS))
    quarters = tuple(Period(months_later(year.first, 3 * number), Span.QUARTER) for number in range(4))
    return (*months, *quarters, year)


def months_later(first: date, months: int) -> date:
    whole = first.year * 12 + first.month - 1 + months
    return date(whole // 12, whole % 12 + 1, 1)


def moment_of(day: date, zone: ZoneInfo) -> datetime:
    """The midnight a day begins with in ``zone``, in UTC."""
    return datetime.combine(day, time.min, zone).astimezone(UTC)


def is_working(day: date, holidays: Collection[date]) -> bool:
    return day.weekday() < SATURDAY and day not in holidays


def working_days(first: date, last: date, holidays: Collection[date]) -> int:
    """Working days after ``first`` up to and with ``last``: from Friday to Monday one, within a day none."""
    days = (first + timedelta(days=number + 1) for number in range((last - first).days))
    return sum(is_working(day, holidays) for day in days)


def days_to_working_day(first: date, number: int, holidays: Collection[date]) -> int:
    """Days from ``first`` to its ``number``-th working day: to the second one, from a Thursday, four."""
    day, left = first, number
    while left:
        day += timedelta(days=1)
        left -= is_working(day, holidays)
    return (day - first).days
