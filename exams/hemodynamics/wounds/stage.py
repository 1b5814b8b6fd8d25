"""WIfI: both published 64-cell tables, and the stage of a limb from its three grades.

Source: WIFI14 (clinical reference 3.2 to 3.4). Stage 5 is a clinician's word and never computed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from itertools import product

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.wounds.assessed import AssessedWound
from exams.hemodynamics.wounds.graded import Grade, IschaemiaGrade, Level, LimbStage
from exams.hemodynamics.wounds.infection import no_infection_grade, wifi_infection
from exams.hemodynamics.wounds.sources import SECONDARY
from exams.hemodynamics.wounds.wound_grade import wound_grade

# One row a wound grade; in it four groups, one an ischaemia grade, of four foot infection grades each.
_RISK = (
    "VL VL L M    VL L M H    L L M H    L M M H",
    "VL VL L M    VL L M H    L M H H    M M H H",
    "L L M H      M M H H     M H H H    H H H H",
    "M M H H      H H H H     H H H H    H H H H",
)
# I1 fI2 falls from high to moderate between W2 and W3: so it is published, and it is not repaired here.
_BENEFIT = (
    "VL VL VL VL  VL L L M    L L M M    M H H H",
    "VL VL VL VL  L M M M     M H H H    H H H H",
    "VL VL VL VL  M M H H     H H H H    H H H H",
    "VL VL VL VL  M M M H     H H H H    H H H H",
)
GRADES = (0, 1, 2, 3)
STAGE_OF = {Level.VERY_LOW: 1, Level.LOW: 2, Level.MODERATE: 3, Level.HIGH: 4}
UNSALVAGEABLE = 5
Cell = tuple[int, int, int]


def _cells(rows: tuple[str, ...]) -> Mapping[Cell, Level]:
    found = {}
    for w, row in zip(GRADES, rows, strict=True):
        for place, letters in enumerate(row.split()):
            found[w, place // 4, place % 4] = Level(letters)
    return found


# By (wound, ischaemia, foot infection).
AMPUTATION_RISK = _cells(_RISK)
REVASCULARISATION_BENEFIT = _cells(_BENEFIT)


def limb_stage(
    wounds: Collection[AssessedWound], ischaemia: IschaemiaGrade, by_clinician: int | None = None
) -> LimbStage:
    """The stage of a limb by the worst of its wounds; without a wound it is W0 fI0 (rest pain only).

    Raises
    ------
    InputError
        ``stage.not_by_clinician`` for any stage entered but 5.
    """
    wound = worst([wound_grade(one) for one in wounds] or [wound_grade(None)])
    infection = worst([wifi_infection(one.infection) for one in wounds] or [no_infection_grade()])
    return stage_of(wound, ischaemia, infection, by_clinician)


def stage_of(
    wound: Grade, ischaemia: IschaemiaGrade, infection: Grade, by_clinician: int | None = None
) -> LimbStage:
    """The stage of three grades; every cell that what is unknown allows is looked up.

    Raises InputError as ``limb_stage``.
    """
    if by_clinician not in (None, UNSALVAGEABLE):
        raise InputError("stage.not_by_clinician", "by_clinician", by_clinician, (UNSALVAGEABLE,))
    cells = list(product(wound.possible, ischaemia.grade.possible, infection.possible))
    known = len(cells) == 1
    unknown = NotStated("a grade is not known")
    possible = tuple(sorted({STAGE_OF[AMPUTATION_RISK[cell]] for cell in cells}))
    return LimbStage(
        wound=wound,
        ischaemia=ischaemia,
        infection=infection,
        risk=_one({AMPUTATION_RISK[cell] for cell in cells}) or unknown,
        benefit=_one({REVASCULARISATION_BENEFIT[cell] for cell in cells}) or unknown,
        # Every cell that can be may lie in one stage: then the stage is known though a grade is not.
        computed=possible[0] if known or len(possible) == 1 else unknown,
        by_clinician=by_clinician,
        possible=possible,
        source="WIFI14",
        status=SECONDARY,
    )


def worst(grades: Collection[Grade]) -> Grade:
    """The gravest of several: by the highest it can be, and at least what any other surely is."""
    gravest = max(grades, key=lambda one: (one.at_most, one.at_least))
    surely = max(one.at_least for one in grades)
    return gravest if surely == gravest.at_least else replace(gravest, at_least=surely)


def _one(levels: set[Level]) -> Level | None:
    return next(iter(levels)) if len(levels) == 1 else None
