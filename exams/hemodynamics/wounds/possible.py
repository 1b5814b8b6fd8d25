"""What can follow from facts some of which are not known."""

from __future__ import annotations

from collections.abc import Iterable

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.wounds.graded import Fact, Grade


def any_of(*answers: Answer) -> Answer:
    """ "yes" if any is yes, "no" if all are no, else "unknown"."""
    if "yes" in answers:
        return "yes"
    return "no" if all(one == "no" for one in answers) else "unknown"


def at_least(count: int, answers: Iterable[Answer]) -> Answer:
    """Whether so many of the answers are yes."""
    every = list(answers)
    sure, perhaps = every.count("yes"), every.count("unknown")
    if sure >= count:
        return "yes"
    return "unknown" if sure + perhaps >= count else "no"


def answer(value: bool | None) -> Answer:
    if value is None:
        return "unknown"
    return "yes" if value else "no"


def grade(
    scheme: str,
    possible: Iterable[int],
    *,
    letter: str,
    words: dict[int, str],
    facts: Iterable[Fact],
    missing: Iterable[str],
    rule: str,
    source: str,
    status: str,
    flags: Iterable[str] = (),
    notes: Iterable[str] = (),
    suffix: str = "",
) -> Grade:
    """A grade from every value it can have: stated if there is one, else NotStated with what is asked.

    What is missing is told only where it could change the grade.
    """
    every = sorted(set(possible))
    lowest, highest = every[0], every[-1]
    asked = tuple(dict.fromkeys(missing)) if lowest != highest else ()
    if lowest == highest:
        value: int | NotStated = lowest
        shown, meaning = f"{letter}{lowest}{suffix}", words[lowest]
    else:
        value = NotStated(f"not known: {'; '.join(asked)}")
        shown = f"{letter}{lowest} to {letter}{highest}"
        meaning = f"between “{words[lowest]}” and “{words[highest]}”"
    return Grade(
        scheme, value, lowest, highest, shown, meaning, tuple(facts), asked, tuple(flags), tuple(notes),
        rule, source, status,
    )  # fmt: skip
