"""Layer (b): what is published on healing, as ranges with citation and honest status. No ratio is made of it.

Source: clinical reference 4.2 and 3.4. Points are percentage points of an absolute change in probability,
which is itself from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from exams.hemodynamics.ankle import MEASURED, MIXED
from exams.hemodynamics.columns import PRESSURE
from exams.hemodynamics.exact import mmhg
from exams.hemodynamics.healing.answered import Evidence
from exams.hemodynamics.healing.flow import Flow
from exams.hemodynamics.healing.judge import Case, Judged
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.words import hundredths, mmhg_words
from exams.hemodynamics.wounds.possible import answer, any_of
from exams.hemodynamics.wounds.sinbad import sinbad
from exams.hemodynamics.wounds.sources import MEMORY, PRIMARY, SECONDARY, WOUND_SOURCES

Points = tuple[int | None, int | None]
NO_VALUE = "not measured"


@dataclass(frozen=True, slots=True)
class _Statement:
    test: str
    condition: str
    holds: Callable[[Flow], Answer]
    shown: Callable[[Flow], str]
    says: str
    points: Points | None
    source: str
    status: str


def published_evidence(judged: Judged, case: Case) -> tuple[Evidence, ...]:
    """Every statement, with whether this foot meets its condition; those that apply first."""
    found = [
        Evidence(
            one.test, one.condition, one.holds(judged.flow), one.shown(judged.flow), one.says, one.points,
            WOUND_SOURCES[one.source], one.status,
        )
        for one in _STATEMENTS
    ]  # fmt: skip
    found += _of_areas(case) + _of_sinbad(case)
    order = {"yes": 0, "unknown": 1, "no": 2}
    return tuple(sorted(found, key=lambda one: order[one.applies]))


def toe_value(flow: Flow) -> Decimal | None:
    toe = flow.toe
    return mmhg(toe.row.toe) if toe is not None and toe.row.toe_state == PRESSURE else None


def ankle_value(flow: Flow) -> Decimal | None:
    ankle = flow.ankle
    counts = ankle is not None and ankle.row.ankle_state in (MEASURED, MIXED)
    return mmhg(ankle.row.ankle) if ankle is not None and counts else None


def index_value(flow: Flow) -> Decimal | None:
    index = flow.ankle.row.index if flow.ankle is not None else None
    return None if index is None else hundredths(index)


def _toe(low: int, *, below: bool = False) -> Callable[[Flow], Answer]:
    def holds(flow: Flow) -> Answer:
        value = toe_value(flow)
        return answer(None if value is None else (value < low if below else value >= low))

    return holds


def _oxygen(low: int, *, below: bool = False) -> Callable[[Flow], Answer]:
    def holds(flow: Flow) -> Answer:
        value = flow.oxygen_mmhg
        return answer(None if value is None else (value < low if below else value >= low))

    return holds


def _ankle_below(limit: int) -> Callable[[Flow], Answer]:
    def holds(flow: Flow) -> Answer:
        value = ankle_value(flow)
        return answer(None if value is None else value < limit)

    return holds


def _ankle_or_index(flow: Flow) -> Answer:
    index = index_value(flow)
    low_index = answer(None if index is None else index < Decimal("0.5"))
    return any_of(_ankle_below(50)(flow), low_index)


def _never_measured(_: Flow) -> Answer:
    return "unknown"


def _always(_: Flow) -> Answer:
    return "yes"


def _shown(value: Callable[[Flow], Decimal | None]) -> Callable[[Flow], str]:
    def shown(flow: Flow) -> str:
        found = value(flow)
        return NO_VALUE if found is None else mmhg_words(found)

    return shown


def _ankle_shown(flow: Flow) -> str:
    return flow.ankle.row.ankle_words if flow.ankle is not None else NO_VALUE


def _nothing(_: Flow) -> str:
    return ""


_TOE, _OXYGEN = _shown(toe_value), _shown(lambda flow: flow.oxygen_mmhg)
_STATEMENTS = (
    _Statement(
        "toe pressure", "30 mmHg or more", _toe(30), _TOE,
        "raised the chance of healing by at least 25 points in at least one study", (25, None),
        "FOR20", PRIMARY,
    ),
    _Statement(
        "toe pressure", "45 mmHg or more", _toe(45), _TOE,
        "raised the chance of healing by at least 25 points in at least one study", (25, None),
        "BRO16", PRIMARY,
    ),
    _Statement(
        "toe pressure", "30 mmHg or more", _toe(30), _TOE,
        "up to 30 points more chance of healing", (0, 30), "IWG23", MEMORY,
    ),
    _Statement(
        "toe pressure", "below 30 mmHg", _toe(30, below=True), _TOE,
        "about 20 points more risk of major amputation", (20, 20), "IWG23", MEMORY,
    ),
    _Statement(
        "toe pressure", "below 30 mmHg", _toe(30, below=True), _TOE,
        "more than 25 points more risk of amputation", (25, None), "FOR20", MEMORY,
    ),
    _Statement(
        "transcutaneous oxygen", "25 mmHg or more", _oxygen(25), _OXYGEN,
        "raised the chance of healing by at least 25 points in at least one study", (25, None),
        "FOR20", PRIMARY,
    ),
    _Statement(
        "transcutaneous oxygen", "25 mmHg or more", _oxygen(25), _OXYGEN,
        "up to 45 points more chance of healing", (0, 45), "IWG23", MEMORY,
    ),
    _Statement(
        "transcutaneous oxygen", "below 25 mmHg", _oxygen(25, below=True), _OXYGEN,
        "about 20 points more risk of major amputation", (20, 20), "IWG23", MEMORY,
    ),
    _Statement(
        "transcutaneous oxygen", "43 mmHg or more", _oxygen(43), _OXYGEN,
        "told healing with sensitivity 0.78, specificity 0.56, odds ratio 4.4 (103 people, photo-optical)",
        None, "PMC7602180", PRIMARY,
    ),
    _Statement(
        "skin perfusion pressure", "40 mmHg or more", _never_measured, lambda _: NO_VALUE,
        "raised the chance of healing by at least 25 points in at least one study", (25, None),
        "FOR20", PRIMARY,
    ),
    _Statement(
        "ankle pressure", "below 70 mmHg", _ankle_below(70), _ankle_shown,
        "about 25 points more risk of major amputation", (25, 25), "BRO16", PRIMARY,
    ),
    _Statement(
        "ankle pressure and index", "ankle below 50 mmHg or index below 0.5", _ankle_or_index, _ankle_shown,
        "about 40 points more risk of major amputation", (40, 40), "BRO16", PRIMARY,
    ),
    _Statement(
        "background", "foot ulcers in diabetes with arterial disease", _always, _nothing,
        "18 to 61 % healed and 3 to 19 % had a major amputation within a year", None, "BRO16", PRIMARY,
    ),
)  # fmt: skip


def _of_areas(case: Case) -> list[Evidence]:
    """Each wound by its own 4-week figure; the middle of Sheehan's study is a median, not a rule."""
    found = []
    for key, course in case.courses:
        known = None if not isinstance(course.percent, Decimal) else course.percent >= 53
        shown = course.sentence or NO_VALUE
        found.append(
            Evidence(
                f"area reduction of wound {key}" if len(case.courses) > 1 else "area reduction",
                "53 % or more at 4 weeks (the midpoint of the study)",
                answer(known),
                shown,
                "58 % healed by 12 weeks above the study's 4-week median, 9 % below it (203 people)",
                None,
                WOUND_SOURCES["SHEEHAN03"],
                PRIMARY,
            )
        )
    return found


def _of_sinbad(case: Case) -> list[Evidence]:
    question = case.question
    grades = [sinbad(one.wound, question.foot, case.rules.infection.rule) for one in question.wounds]
    return [
        Evidence(
            "SINBAD",
            "3 or more",
            answer(True if grade.at_least >= 3 else False if grade.at_most < 3 else None),
            grade.shown,
            "healing takes longer",
            None,
            WOUND_SOURCES["SINBAD08"],
            SECONDARY if grade.number is None else PRIMARY,
        )
        for grade in grades
        if grade.shown != "not for the leg"
    ]
