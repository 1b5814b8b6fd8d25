"""Foot-risk category to the days on which somebody is due, as the core has it.

Source: IWGDF ulcer-risk stratification (SCH20 Table 1; clinical.md 4.3).
The months are expert opinion (C:S33).
"""

from datetime import date

from exams.hemodynamics import interval_words, recall_window

SCHEME = "IWGDF ulcer-risk category (SCH20 Table 1); intervals are expert opinion"
WORDS = {0: "very low risk", 1: "low risk", 2: "moderate risk", 3: "high risk"}
CATEGORIES = tuple(WORDS)


def category_words(category: int) -> str:
    """ "2, moderate risk: in 3 to 6 months"."""
    return f"{category}, {WORDS[category]}: {interval_words(category)}"


def due_between(category: int, counted_from: date) -> tuple[date, date]:
    """From when, and by when at the latest, somebody of this category is to be seen again."""
    return recall_window(category, counted_from)
