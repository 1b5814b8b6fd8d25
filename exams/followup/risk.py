"""Foot-risk category to the days on which somebody is due. Data and pure functions.

Source: IWGDF ulcer-risk stratification (SCH20 Table 1; clinical.md 4.3).
The months are expert opinion (C:S33).
"""

import calendar
from datetime import date

SCHEME = "IWGDF ulcer-risk category (SCH20 Table 1); intervals are expert opinion"
# Category to the earliest and latest month.
MONTHS = {0: (12, 12), 1: (6, 12), 2: (3, 6), 3: (1, 3)}
WORDS = {0: "very low", 1: "low", 2: "moderate", 3: "high"}
CATEGORIES = tuple(MONTHS)


def category_words(category: int) -> str:
    """ "2, moderate: every 3 to 6 months"."""
    low, high = MONTHS[category]
    every = f"{high} months" if low == high else f"{low} to {high} months"
    return f"{category}, {WORDS[category]}: every {every}"


def due_between(category: int, counted_from: date) -> tuple[date, date]:
    """From when, and by when at the latest, somebody of this category is to be seen again."""
    low, high = MONTHS[category]
    return months_after(counted_from, low), months_after(counted_from, high)


def months_after(day: date, months: int) -> date:
    """The same day some months later, or the last of a shorter month: 31 Jan and a month is 28 Feb."""
    year, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + year, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))
