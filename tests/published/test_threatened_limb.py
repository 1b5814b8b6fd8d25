"""WIfI: both published 64-cell tables, the printed grades, and worked cases 15, 16, 18, 25-32, 48.

Source: clinical reference 3 and 9, after Mills JL, et al. J Vasc Surg 2014;59:220-234. The tables are written
out here a second time, cell by cell, in the order of the reference (columns fI0 to fI3).
"""

from collections import Counter
from datetime import date
from itertools import product

import pytest

from exams.hemodynamics import (
    AMPUTATION_RISK,
    REVASCULARISATION_BENEFIT,
    Context,
    InputError,
    Level,
    NotStated,
    limb_stage,
    load_criteria,
)
from tests.hemodynamics.wound_words import ischaemia, stage_of_digits, wound

CRITERIA = load_criteria("acc-aha-2024")
DAY = date(2026, 3, 20)
RISK = {
    (0, 0): "VL VL L M", (0, 1): "VL L M H", (0, 2): "L L M H", (0, 3): "L M M H",
    (1, 0): "VL VL L M", (1, 1): "VL L M H", (1, 2): "L M H H", (1, 3): "M M H H",
    (2, 0): "L L M H", (2, 1): "M M H H", (2, 2): "M H H H", (2, 3): "H H H H",
    (3, 0): "M M H H", (3, 1): "H H H H", (3, 2): "H H H H", (3, 3): "H H H H",
}  # fmt: skip
BENEFIT = {
    (0, 0): "VL VL VL VL", (0, 1): "VL L L M", (0, 2): "L L M M", (0, 3): "M H H H",
    (1, 0): "VL VL VL VL", (1, 1): "L M M M", (1, 2): "M H H H", (1, 3): "H H H H",
    (2, 0): "VL VL VL VL", (2, 1): "M M H H", (2, 2): "H H H H", (2, 3): "H H H H",
    (3, 0): "VL VL VL VL", (3, 1): "M M M H", (3, 2): "H H H H", (3, 3): "H H H H",
}  # fmt: skip
CELLS = list(product(range(4), repeat=3))
STAGES = {
    1: "000 001 010 100 101 110",
    2: "002 011 020 021 030 102 111 120 200 201",
    3: "003 012 022 031 032 103 112 121 130 131 202 210 211 220 300 301",
}
STEPS = [(1, 0, 0), (0, 1, 0), (0, 0, 1)]
ORDER = list(Level)


def neighbours(table, step):
    """Every pair of cells one step apart: (cell, its level, the next cell's level)."""
    for cell in CELLS:
        after = tuple(one + more for one, more in zip(cell, step, strict=True))
        if after in table:
            yield cell, ORDER.index(table[cell]), ORDER.index(table[after])


@pytest.mark.parametrize("cell", CELLS)
def test_every_cell_of_both_tables_is_as_published(cell):
    w, i, fi = cell

    assert AMPUTATION_RISK[cell] == RISK[w, i].split()[fi]
    assert REVASCULARISATION_BENEFIT[cell] == BENEFIT[w, i].split()[fi]


def test_the_counts_of_both_tables_are_as_published():
    assert len(AMPUTATION_RISK) == len(REVASCULARISATION_BENEFIT) == 64
    assert Counter(AMPUTATION_RISK.values()) == {"VL": 6, "L": 10, "M": 16, "H": 32}
    assert Counter(REVASCULARISATION_BENEFIT.values()) == {"VL": 17, "L": 5, "M": 13, "H": 29}


def test_the_risk_never_falls_in_any_of_the_144_steps():
    steps = [one for step in STEPS for one in neighbours(AMPUTATION_RISK, step)]

    assert len(steps) == 144
    assert [cell for cell, before, after in steps if after < before] == []


def test_the_benefit_falls_in_one_step_only_as_it_is_published():
    falls = [
        (step, cell)
        for step in STEPS
        for cell, before, after in neighbours(REVASCULARISATION_BENEFIT, step)
        if after < before
    ]

    assert falls == [((1, 0, 0), (2, 1, 2))]


@pytest.mark.parametrize("cell", CELLS)
def test_the_stage_of_every_cell_is_as_listed(cell):
    digits = "".join(map(str, cell))
    listed = next((stage for stage, cells in STAGES.items() if digits in cells.split()), 4)

    assert stage_of_digits(*cell).computed == listed


@pytest.mark.parametrize(
    ("cell", "risk", "stage", "benefit"),
    [
        ((0, 0, 0), "VL", 1, "VL"),  # case 25
        ((1, 1, 0), "VL", 1, "L"),  # case 26
        ((0, 3, 0), "L", 2, "M"),  # case 27
        ((2, 0, 3), "H", 4, "VL"),  # case 28
        ((2, 1, 2), "H", 4, "H"),  # case 29
        ((3, 1, 2), "H", 4, "M"),  # case 29, the published pair
        ((2, 2, 0), "M", 3, "H"),  # case 30
        ((1, 2, 2), "H", 4, "H"),  # case 31
        ((1, 3, 0), "M", 3, "H"),
        ((3, 0, 0), "M", 3, "VL"),
        ((1, 0, 2), "L", 2, "VL"),
    ],
)
def test_cases_25_to_31_risk_stage_and_benefit(cell, risk, stage, benefit):
    found = stage_of_digits(*cell)

    assert (found.risk, found.stage, found.benefit) == (risk, stage, benefit)
    assert found.code == "W{} I{} fI{}".format(*cell)


def test_case_32_stage_5_is_a_clinicians_word_and_stands_before_the_computed_one():
    found = stage_of_digits(3, 3, 3, by_clinician=5)

    assert (found.risk, found.computed, found.benefit) == ("H", 4, "H")
    assert found.stage == 5
    with pytest.raises(InputError, match=r"stage\.not_by_clinician"):
        stage_of_digits(0, 0, 0, by_clinician=4)


@pytest.mark.parametrize(("toe", "grade"), [(60, 0), (59, 1), (40, 1), (39, 2), (30, 2), (29, 3), (1, 3)])
def test_toe_pressures_grade_as_printed(toe, grade):
    assert ischaemia(f"toe {toe}").grade.value == grade


@pytest.mark.parametrize(("ankle", "grade"), [(101, 0), (100, 1), (70, 1), (69, 2), (50, 2), (49, 3)])
def test_ankle_pressures_grade_as_printed_without_diabetes(ankle, grade):
    assert ischaemia(f"dp {ankle}, pt {ankle}").grade.value == grade


@pytest.mark.parametrize(("dp", "grade"), [(160, 0), (158, 1), (120, 1), (118, 2), (102, 2)])
def test_indices_grade_as_printed_and_the_worse_of_index_and_pressure_decides(dp, grade):
    # An arm of 200 keeps the ankle pressure above 100, where it grades 0.
    assert ischaemia(f"arm 200, dp {dp}, pt {dp}").grade.value == grade


@pytest.mark.parametrize(("mmhg", "grade"), [(60, 0), (59, 1), (40, 1), (39, 2), (30, 2), (29, 3)])
def test_oxygen_grades_as_printed_and_case_48_grades_3(mmhg, grade):
    assert ischaemia("dp 200", oxygen=mmhg).grade.value == grade
    assert ischaemia("", oxygen=28).grade.value == 3


def test_case_15_the_toe_decides_and_the_disagreement_is_shown():
    right = ischaemia("arm 150, dp 60, pt 58, toe 28")
    left = ischaemia("arm 150, dp 106, pt 104, toe 61")

    assert (right.grade.value, right.method) == (3, "toe")
    assert "would grade 2" in right.disagreement
    assert (left.grade.value, left.method) == (0, "toe")
    assert "would grade 1" in left.disagreement


def test_case_16_an_ankle_of_exactly_70_is_grade_1_and_marked():
    with_toe = ischaemia("arm 150, dp 70, pt 66, toe 35")
    alone = ischaemia("dp 70, pt 66")

    assert with_toe.grade.value == 2
    assert with_toe.disagreement == ""
    assert (alone.grade.value, alone.grade.flags) == (1, ("BOUNDARY",))


def test_case_18_without_an_arm_both_pressures_grade_2():
    assert ischaemia("dp 62, toe 34").grade.value == 2
    assert ischaemia("dp 62").grade.value == 2


def test_oxygen_stands_before_pulse_volume_and_pulse_volume_before_the_ankle():
    assert ischaemia("dp 120, toe 70", oxygen=20).method == "toe"
    assert ischaemia("dp 120", oxygen=45, flat_forefoot=True).method == "oxygen"
    flat = ischaemia("dp 120", flat_forefoot=True)
    assert (flat.method, flat.grade.value) == ("pulse_volume", 3)


@pytest.mark.parametrize(
    "words", ["arm 100, dp 131, pt 131", "arm 100, dp not_occludable, pt not_occludable"]
)
def test_a_stiff_ankle_is_set_aside(words):
    found = ischaemia(words)

    assert isinstance(found.grade.value, NotStated)
    assert found.grade.possible == (0, 1, 2, 3)


@pytest.mark.parametrize("context", [Context(), Context(diabetes="yes"), Context(diabetes="no")])
def test_an_ankle_may_raise_but_never_reassures_with_diabetes_or_in_doubt(context):
    assert isinstance(ischaemia("dp 120", context=context).grade.value, NotStated)
    assert ischaemia("dp 60", context=context).grade.value == 2


def test_a_mixed_ankle_never_reassures():
    words = "arm 140, dp not_occludable, pt"

    assert isinstance(ischaemia(f"{words} 130").grade.value, NotStated)
    assert ischaemia(f"{words} 60").grade.value == 2


def test_a_toe_that_cannot_be_occluded_says_nothing_and_a_flat_one_says_3():
    assert isinstance(ischaemia("toe not_occludable").grade.value, NotStated)
    assert ischaemia("toe no_signal").grade.value == 3


def test_what_is_not_known_leaves_every_stage_it_can_be():
    found = limb_stage([wound()], ischaemia(""))

    assert isinstance(found.computed, NotStated)
    assert found.possible == (1, 2, 3)
    assert "toe pressure" in found.missing[0]


def test_the_worst_wound_of_a_limb_stages_it():
    shallow, deep = wound(), wound(deepest="bone", bone_only_in_distal_phalanx="no")

    assert limb_stage([shallow, deep], ischaemia("toe 35")).code == "W2 I2 fI0"


def test_a_wound_that_is_surely_graver_narrows_what_an_unknown_one_leaves_open():
    unknown, deep = wound(deepest=None), wound(deepest="tendon")

    assert limb_stage([unknown, deep], ischaemia("toe 35")).wound.possible == (2, 3)


def test_a_stage_comes_back_from_json_as_it_was():
    found = limb_stage([wound()], ischaemia("arm 150, dp 70, pt 66, toe 35"))

    assert type(found).from_json(found.to_json()) == found
