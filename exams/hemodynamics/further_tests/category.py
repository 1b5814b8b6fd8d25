"""Rutherford category and Fontaine stage as a clinician entered them, checked against the pressures.

The software never chooses a category; it says where the pressures do not fit the one entered.
Source: RUTH97 as in a secondary table (clinical reference 5.6).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding
from exams.hemodynamics.further_tests.limits import further_finding, meets, shown_mmhg
from exams.hemodynamics.measured import Side
from exams.hemodynamics.words import joined, listed

CATEGORY_WORDS: Mapping[int, str] = {
    0: "no symptoms",
    1: "mild claudication",
    2: "moderate claudication",
    3: "severe claudication",
    4: "pain at rest",
    5: "minor tissue loss",
    6: "major tissue loss",
}


class Fontaine(StrEnum):
    I = "I"  # noqa: E741  the stage is called so
    IIA = "IIa"
    IIB = "IIb"
    III = "III"
    IV = "IV"


FONTAINE_OF: Mapping[int, tuple[Fontaine, ...]] = {
    0: (Fontaine.I,),
    1: (Fontaine.IIA,),
    2: (Fontaine.IIA, Fontaine.IIB),  # some map it to either
    3: (Fontaine.IIB,),
    4: (Fontaine.III,),
    5: (Fontaine.IV,),
    6: (Fontaine.IV,),
}


@dataclass(frozen=True, slots=True)
class CategoryEvidence:
    """What was measured of the limb, mmHg; None is not known, and a stiff ankle is not known.

    ``completed``: the treadmill exercise to its end. ``exercise_positive``: by either criterion.
    """

    ankle_mmhg: Fraction | None = None
    toe_mmhg: Fraction | None = None
    flat_pulse_volume: bool | None = None
    post_exercise_ankle_mmhg: Fraction | None = None
    completed: bool | None = None
    exercise_positive: bool | None = None
    pain_free_m: int | None = None


def category_finding(
    side: Side,
    category: int,
    evidence: CategoryEvidence,
    criteria: Criteria,
    fontaine: Fontaine | None = None,
) -> Finding:
    """The category as entered, CONSISTENT, MISMATCH or NOT_CHECKED against what was measured.

    Raises
    ------
    InputError
        ``category.unknown`` for anything but 0 to 6.
    """
    if category not in CATEGORY_WORDS:
        raise InputError("category.unknown", "category", category, tuple(CATEGORY_WORDS))
    mismatches = [
        *_against_rest(category, evidence, criteria),
        *_against_exercise(category, evidence, criteria),
        *_against_fontaine(category, fontaine, evidence, criteria),
    ]
    checked = bool(mismatches) or _was_checked(category, evidence, criteria)
    band = "MISMATCH" if mismatches else "CONSISTENT" if checked else "NOT_CHECKED"
    words = {
        "MISMATCH": "does not fit what was measured",
        "CONSISTENT": "fits what was measured",
        "NOT_CHECKED": "nothing measured to check it with",
    }
    entered = f"{side.word} Rutherford category {category} ({CATEGORY_WORDS[category]})"
    stage = f", Fontaine {fontaine}" if fontaine else ""
    return further_finding(
        criteria, "rutherford_category", side, Decimal(category), "",
        criteria.further["category_4_ankle_mmhg"],
        band=band, band_words=words[band], flags=("CATEGORY_MISMATCH",) if mismatches else (),
        said=joined([f"{entered}{stage} {words[band]}", *mismatches]).rstrip("."),
        rule="entered by a clinician; checked against RUTH97",
    )  # fmt: skip


def _against_rest(category: int, evidence: CategoryEvidence, criteria: Criteria) -> list[str]:
    if category >= 4:
        met, told = _critical(4 if category == 4 else 5, evidence, criteria)
        return [] if met or not told else [f"at rest {listed(told)}, not as low as this category asks"]
    met, _ = _critical(4, evidence, criteria)
    return [f"at rest {listed(met)}, as low as in category 4"] if met else []


def _critical(category: int, evidence: CategoryEvidence, criteria: Criteria) -> tuple[list[str], list[str]]:
    """Which measures are as low as category 4 or 5 asks (any one will do), and all that were measured."""
    met, told = [], []
    for name, value in (("ankle", evidence.ankle_mmhg), ("toe", evidence.toe_mmhg)):
        if value is not None:
            words = f"{name} {shown_mmhg(value)} mmHg"
            told.append(words)
            met += [words] if meets(criteria, f"category_{category}_{name}_mmhg", value) else []
    if evidence.flat_pulse_volume is not None:
        words = "pulse volume flat" if evidence.flat_pulse_volume else "pulse volume not flat"
        told.append(words)
        met += [words] if evidence.flat_pulse_volume else []
    return met, told


def _against_exercise(category: int, evidence: CategoryEvidence, criteria: Criteria) -> list[str]:
    after, done = evidence.post_exercise_ankle_mmhg, evidence.completed
    found = []
    if category == 0 and evidence.exercise_positive:
        found.append("the exercise test was positive")
    if category == 1:
        if done is False:
            found.append("the treadmill was not completed")
        if after is not None and not meets(criteria, "category_1_ankle_mmhg", after):
            found.append(f"ankle {shown_mmhg(after)} mmHg after exercise, not {_limit_words(criteria, 1)}")
        rest = evidence.ankle_mmhg
        if (
            after is not None
            and rest is not None
            and not meets(criteria, "category_1_fall_mmhg", rest - after)
        ):
            found.append(f"ankle only {shown_mmhg(rest - after)} mmHg lower after exercise than at rest")
    if category == 3:
        if done:
            found.append("the treadmill was completed")
        if after is not None and not meets(criteria, "category_3_ankle_mmhg", after):
            found.append(f"ankle {shown_mmhg(after)} mmHg after exercise, not {_limit_words(criteria, 3)}")
    return found


def _limit_words(criteria: Criteria, category: int) -> str:
    return criteria.further[f"category_{category}_ankle_mmhg"].words


def _against_fontaine(
    category: int, fontaine: Fontaine | None, evidence: CategoryEvidence, criteria: Criteria
) -> list[str]:
    if fontaine is None:
        return []
    found = []
    if fontaine not in FONTAINE_OF[category]:
        fits = " or ".join(FONTAINE_OF[category])
        found.append(f"Fontaine {fontaine} was entered, {fits} goes with category {category}")
    walked = evidence.pain_free_m
    if walked is not None:
        short = meets(criteria, "fontaine_pain_free_m", walked)
        # Exactly the limit fits either stage.
        long = walked > criteria.further["fontaine_pain_free_m"].limit
        if (fontaine is Fontaine.IIA and short) or (fontaine is Fontaine.IIB and long):
            found.append(f"Fontaine {fontaine} was entered with {walked} m walked free of pain")
    return found


def _was_checked(category: int, evidence: CategoryEvidence, criteria: Criteria) -> bool:
    if category >= 4:
        return bool(_critical(4, evidence, criteria)[1])
    if category == 0:
        return evidence.exercise_positive is not None
    return evidence.post_exercise_ankle_mmhg is not None or evidence.completed is not None
