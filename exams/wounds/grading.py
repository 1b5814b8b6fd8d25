"""The grades that follow from an assessment, as the core gives them; nothing is asked twice."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from exams.hemodynamics import (
    Criteria,
    Grade,
    LimbStage,
    foot_risk,
    iwgdf_infection,
    sinbad,
    threatened_limb,
    wifi_infection,
    wound_grade,
)
from exams.wounds.asked import assessed_wound
from exams.wounds.codes import STAGE
from exams.wounds.models import Assessment, WoundEntry
from exams.wounds.queries.outlook import outlook_criteria, question_at, read_of


@dataclass(frozen=True)
class Kept:
    """One grade as it is stored; ``value`` is None where it is not stated."""

    measure: str
    value: Decimal | None
    graded: dict[str, Any]


@dataclass(frozen=True)
class Graded:
    """Every grade of one assessment, by the criteria in force."""

    grades: tuple[Kept, ...]
    infection: Grade
    criteria: Criteria


def graded(entry: WoundEntry, found: Assessment, before: Sequence[Assessment]) -> Graded:
    """Grades of one wound as found, and the stage of its limb with all its open wounds as known that day.

    ``before`` are the standing assessments of this wound up to that day, the oldest first, without ``found``.
    """
    patient = entry.patient
    criteria = outlook_criteria(patient.clinic)
    rule = criteria.outlook.infection.rule if criteria.outlook else "iwgdf2023"
    read = read_of(patient, found.assessed_on)
    # Later ones of the same day are left out: the stage is of what was known when this was found.
    read = replace(read, assessments={**read.assessments, entry.wound_id: (*before, found)})
    wound, foot = assessed_wound(entry, found), read.foot(entry.side)
    stage = threatened_limb(question_at(read, entry.side), criteria)
    infection = iwgdf_infection(wound.infection, rule)
    grades = (
        wound_grade(wound),
        infection,
        wifi_infection(wound.infection),
        sinbad(wound, foot, rule),
        foot_risk(foot, open_ulcer=True),
    )
    kept = [Kept(one.scheme, _value(one.number), one.to_json()) for one in grades]
    return Graded((*kept, _stage(stage)), infection, criteria)


def _stage(stage: LimbStage) -> Kept:
    number = stage.stage if isinstance(stage.stage, int) else None
    return Kept(STAGE, _value(number), stage.to_json())


def _value(number: int | None) -> Decimal | None:
    return None if number is None else Decimal(number)
