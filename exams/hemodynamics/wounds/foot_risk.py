"""IWGDF foot-risk category and when the foot is to be seen again. Source: SCH20 table 1 (clinical 4.3)."""

from __future__ import annotations

import calendar
from datetime import date
from itertools import product

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.wounds.assessed import FootFacts
from exams.hemodynamics.wounds.graded import Fact, Grade
from exams.hemodynamics.wounds.possible import any_of, grade
from exams.hemodynamics.wounds.sources import PRIMARY

RISK_WORDS = {0: "very low risk", 1: "low risk", 2: "moderate risk", 3: "high risk"}
# Fewest and most months until the foot is seen again; expert opinion.
INTERVAL_MONTHS = {0: (12, 12), 1: (6, 12), 2: (3, 6), 3: (1, 3)}
FACT_WORDS = {
    "sensation_lost": "protective sensation lost",
    "arterial_disease": "arterial disease",
    "deformity": "deformity",
    "history": "past ulcer, amputation or end-stage kidney disease",
}
HISTORY_WORDS = {
    "past_ulcer": "past foot ulcer",
    "past_minor_amputation": "past minor amputation",
    "past_major_amputation": "past major amputation",
    "end_stage_kidney_disease": "end-stage kidney disease",
}
OPEN_ULCER = NotStated("an open ulcer is outside the scheme: it needs care now, not a date")
UNCLASSIFIED = (
    "The published scheme does not place this history without nerve loss or arterial disease: it is treated "
    "as category 3 until the foot was examined for both (ours)."
)
UNTIL_EXAMINED = (
    "What is not known is not absent: until it is examined, see the foot as the highest category."
)


def foot_risk(foot: FootFacts, *, open_ulcer: bool = False) -> Grade:
    """Category 0 to 3; NotStated where an unknown fact decides, and for a foot with an open ulcer.

    Flag UNCLASSIFIED_HISTORY where the history is there and nerve loss and arterial disease are not.
    """
    history = any_of(*(getattr(foot, name) for name in HISTORY_WORDS))
    known = (foot.sensation_lost, foot.arterial_disease, foot.deformity, history)
    possible = {_category(*answers) for answers in product(*(_either_way(one) for one in known))}
    unclassified = history == "yes" and "yes" not in known[:2]
    notes = [UNCLASSIFIED] if unclassified else []
    notes += [UNTIL_EXAMINED] if len(possible) > 1 else []
    made = grade(
        "iwgdf_foot_risk", possible, letter="", words=RISK_WORDS, facts=_facts(foot),
        missing=[FACT_WORDS[name] for name, one in zip(FACT_WORDS, known, strict=True) if one == "unknown"],
        flags=["UNCLASSIFIED_HISTORY"] if unclassified else [], notes=notes,
        rule="category 3 is asked first, then 2, 1, 0", source="SCH20", status=PRIMARY,
    )  # fmt: skip
    if not open_ulcer:
        return made
    return Grade(
        made.scheme, OPEN_ULCER, made.at_least, made.at_most, "open ulcer", OPEN_ULCER.reason, made.facts,
        made.missing, made.flags, made.notes, made.rule, made.source, made.status,
    )  # fmt: skip


def recall_window(category: int, seen: date) -> tuple[date, date]:
    """The first and the last day on which a foot of a category is to be seen again (SCH20).

    Raises
    ------
    InputError
        ``foot_risk.unknown_category`` for anything but 0 to 3.
    """
    if category not in INTERVAL_MONTHS:
        raise InputError("foot_risk.unknown_category", "category", category, tuple(INTERVAL_MONTHS))
    soonest, latest = INTERVAL_MONTHS[category]
    return _months_after(seen, soonest), _months_after(seen, latest)


def interval_words(category: int) -> str:
    """ "in 3 to 6 months", "in 12 months"."""
    soonest, latest = INTERVAL_MONTHS[category]
    return f"in {latest} months" if soonest == latest else f"in {soonest} to {latest} months"


def _category(nerve_loss: bool, disease: bool, deformity: bool, history: bool) -> int:
    if history:
        return 3  # also without nerve loss or disease: see UNCLASSIFIED
    return min(2, nerve_loss + disease + deformity) if nerve_loss or disease else 0


def _either_way(one: Answer) -> tuple[bool, ...]:
    return {"yes": (True,), "no": (False,)}.get(one, (True, False))


def _facts(foot: FootFacts) -> list[Fact]:
    plain = [Fact(FACT_WORDS[name], getattr(foot, name)) for name in FACT_WORDS if name != "history"]
    return plain + [Fact(words, getattr(foot, name)) for name, words in HISTORY_WORDS.items()]


def _months_after(day: date, months: int) -> date:
    """The same day so many months later; the last of the month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
