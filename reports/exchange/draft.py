"""One exam as a table tells it, with what is wrong in its rows. Pure data."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date

from exams.visits.models import PreparationItem
from exams.visits.plan import Place
from exams.visits.typed import TypedReading

MOST_ATTEMPTS = 3


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in one row. `grave`: the row does not come in while it stands."""

    row: int
    column: str
    value: str
    reason: str
    suggestion: str
    grave: bool = True


@dataclass(slots=True)
class Draft:
    """One exam as the table tells it, or one person without any pressure.

    `row` is its first row in the file. `reported`: index of a measure and side in hundredths, as typed.
    """

    row: int
    identifier: str = ""
    # As they are compared (`matching`): once, because they are asked for at every step.
    identifier_key: str = ""
    name_key: str = ""
    family_name: str = ""
    given_name: str = ""
    born: date | None = None
    sex: str = "unknown"
    diabetes: str = "unknown"
    kidney_disease: str = "unknown"
    on: date | None = None
    indication: str = ""
    indication_text: str = ""
    conditions: dict[str, str] = field(default_factory=dict)
    readings: list[tuple[Place, TypedReading]] = field(default_factory=list)
    reported: dict[tuple[str, str], int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    @property
    def is_grave(self) -> bool:
        return any(problem.grave for problem in self.problems)

    @property
    def has_exam(self) -> bool:
        return bool(self.readings or self.reported)


def same_exam(one: Draft, other: Draft) -> bool:
    return (one.identifier_key, one.on, one.born) == (other.identifier_key, other.on, other.born)


def joined(standing: Draft, more: Draft) -> None:
    """Take the reading of one more row into the exam that it belongs to."""
    taken = Counter((place.side, place.site) for place, _ in standing.readings)
    for place, value in more.readings:
        attempt = taken[place.side, place.site] + 1
        if attempt > MOST_ATTEMPTS:
            standing.problems.append(Problem(
                more.row, "", "", f"more than {MOST_ATTEMPTS} readings at one place",
                "Keep the last three and send the rows again.",
            ))  # fmt: skip
            continue
        standing.readings.append((Place(place.side, place.site, attempt), value))
    standing.problems += more.problems
    standing.conditions = {**more.conditions, **standing.conditions}


def comment_of(draft: Draft) -> str:
    """What the exam's comment says of indices that came without pressures, with the table's own comment."""
    own = draft.conditions.get(PreparationItem.COMMENT, "")
    if draft.readings or not draft.reported:
        return own
    words = {"ankle_brachial_index": "ankle-brachial index", "toe_brachial_index": "toe-brachial index"}
    said = ", ".join(
        f"{side.upper()} {words[measure]} {hundredths // 100}.{hundredths % 100:02d}"
        for (measure, side), hundredths in draft.reported.items()
    )
    return f"Reported index, source: imported table, no readings: {said}. {own}".strip()[:300]
