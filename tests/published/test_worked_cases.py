"""The worked cases of the clinical reference, section 9, that belong to indices, bands and urgency.

Each test is one numbered case; expected values are those printed there (recomputed by its author).
"""

from decimal import Decimal

from exams.hemodynamics import (
    Conditions,
    NotStated,
    Side,
    change_between,
    comparability,
    load_criteria,
    outcome_scale,
)
from tests.hemodynamics.readings import (
    abi,
    arm_used,
    band,
    pattern,
    read,
    shown,
    tbi,
    wound,
)


def test_case_1_ankle_and_toe_agree_on_the_right_and_differ_on_the_left():
    found = read("arm 138, dp 120, pt 128, toe 98", "arm 142, dp 118, pt 110, toe 104")

    assert arm_used(found) == "142 mmHg"
    assert shown_difference(found) == "4 mmHg"
    assert abi(found, "right") == ("0.90", "ABNORMAL_MILD")
    assert tbi(found, "right") == ("0.69", "ABNORMAL")
    assert pattern(found, "right") == "PAD_CONCORDANT"
    assert abi(found, "left") == ("0.83", "ABNORMAL_MILD")
    assert tbi(found, "left") == ("0.73", "NORMAL")
    assert pattern(found, "left") == "ABI_ONLY"
    assert band(found, "toe_pressure", "right") == band(found, "toe_pressure", "left") == "WIFI_0"


def test_case_2_the_first_arm_and_its_repeat_are_averaged():
    found = read("arm 150->146, dp 120, pt 132", "arm 140, dp 126, pt 118")

    assert arm_used(found) == "148 mmHg"
    assert shown_difference(found) == "8 mmHg"
    assert abi(found, "right")[0] == "0.89"
    assert abi(found, "left")[0] == "0.85"


def test_case_3_a_first_arm_more_than_10_from_its_repeat_is_dropped():
    found = read("arm 158->144, dp 130, pt 126", "arm 140, dp 100, pt 110")

    assert arm_used(found) == "144 mmHg"
    assert abi(found, "right")[0] == "0.90"
    assert abi(found, "left")[0] == "0.76"


def test_case_4_a_repeat_exactly_10_apart_still_counts():
    found = read("arm 150->140", "arm 130")

    assert arm_used(found) == "145 mmHg"
    assert shown_difference(found) == "15 mmHg"
    assert found.of("arm_difference").flags == ("IAD_15",)


def test_case_5_arms_far_apart_and_a_toe_lower_than_the_ankle_says():
    found = read("arm 104, dp 122, pt 118, toe 80", "arm 136, dp 120, pt 124, toe 86")

    assert shown_difference(found) == "32 mmHg"
    assert found.of("arm_difference").flags == ("IAD_20",)
    assert arm_used(found) == "136 mmHg"
    assert abi(found, "right") == ("0.90", "ABNORMAL_MILD")
    assert tbi(found, "right")[0] == "0.59"
    assert abi(found, "left") == ("0.91", "BORDERLINE")
    assert tbi(found, "left")[0] == "0.63"
    assert pattern(found, "left") == "SUSPECT_CALCIFICATION_OR_DISTAL"


def test_case_6_one_arm_only():
    found = read("arm not_done:lymphoedema, dp 117, pt 100", "arm 130, dp 132, pt 130")

    assert found.of("arm_used").flags == ("SINGLE_ARM",)
    assert found.of("arm_used").sentence == (
        "LEFT arm used; one arm only: the index may read high (RIGHT arm not used: lymphoedema)."
    )
    assert shown_difference(found) == "not assessed"
    assert abi(found, "right") == ("0.90", "ABNORMAL_MILD")
    assert abi(found, "left") == ("1.02", "NORMAL")


def test_case_7_exactly_0_90_is_abnormal():
    found = read("arm 140, dp 126", "arm 136, dp 128")

    assert abi(found, "right") == ("0.90", "ABNORMAL_MILD")
    assert abi(found, "left") == ("0.91", "BORDERLINE")


def test_case_8_bands_are_read_from_rounded_hundredths():
    found = read("arm 126, dp 114", "arm 120, pt 108, dp 115")

    assert abi(found, "right") == ("0.90", "ABNORMAL_MILD")
    assert abi(found, "left") == ("0.91", "BORDERLINE")


def test_case_9_ties_round_up_over_an_arm_of_200():
    found = read("arm 200, dp 181, toe 141", "arm 188, dp 199, toe 140")

    assert found.of("arm_difference").flags == ("IAD_10",)
    assert abi(found, "right") == ("0.91", "BORDERLINE")
    assert tbi(found, "right") == ("0.71", "NORMAL")
    assert abi(found, "left") == ("1.00", "NORMAL")
    assert tbi(found, "left") == ("0.70", "ABNORMAL")


def test_case_10_the_upper_limit_of_normal_is_1_40():
    found = read("arm 200, dp 281, pt 240, toe 118", "arm 190, dp 280, pt 230, toe 142")

    assert found.of("arm_difference").flags == ("IAD_10",)
    assert abi(found, "right") == ("1.41", "NON_COMPRESSIBLE")
    assert tbi(found, "right")[0] == "0.59"
    assert pattern(found, "right") == "CALCIFIED_PAD"
    assert abi(found, "left") == ("1.40", "NORMAL")
    assert tbi(found, "left")[0] == "0.71"
    assert pattern(found, "left") == "NORMAL"


def test_case_11_stiff_on_the_right_and_a_high_gradient_on_the_left():
    found = read("arm 140, dp 212, pt 198, toe 52", "arm 132, dp 146, pt 150, toe 71")

    assert abi(found, "right") == ("1.51", "NON_COMPRESSIBLE")
    assert tbi(found, "right")[0] == "0.37"
    assert band(found, "toe_pressure", "right") == "WIFI_1"
    assert pattern(found, "right") == "CALCIFIED_PAD"
    assert found.of("ankle_toe_gradient", Side.RIGHT).flags == ("GRADIENT_HIGH", "GRADIENT_NOT_INTERPRETABLE")
    assert abi(found, "left") == ("1.07", "NORMAL")
    assert tbi(found, "left")[0] == "0.51"
    assert band(found, "toe_pressure", "left") == "WIFI_0"
    assert pattern(found, "left") == "SUSPECT_CALCIFICATION_OR_DISTAL"
    assert shown(found, "ankle_toe_gradient", "left") == "79 mmHg"
    assert found.of("ankle_toe_gradient", Side.LEFT).flags == ("GRADIENT_HIGH",)


def test_case_12_an_ankle_that_cannot_be_occluded_gives_no_index():
    found = read("arm 130, dp not_occludable, pt not_occludable, toe 84", "arm 128")

    assert abi(found, "right") == ("not stated", "NON_COMPRESSIBLE")
    assert found.of("ankle_brachial_index", Side.RIGHT).value == NotStated(
        "ankle artery could not be occluded"
    )
    assert tbi(found, "right")[0] == "0.65"
    assert pattern(found, "right") == "CALCIFIED_PAD"


def test_case_13_a_stiff_ankle_without_a_toe_cannot_conclude():
    found = read("arm 130", "arm 128, dp not_occludable, pt not_occludable, toe not_done")

    assert pattern(found, "left") == "INCOMPLETE_NEEDS_TBI"


def test_case_14_one_stiff_artery_makes_the_other_unreliable():
    found = read("arm 130, dp not_occludable, pt 96, toe 60", "arm 126")

    assert abi(found, "right") == ("0.74 (unreliable)", "ABNORMAL_MILD")
    assert "MIXED" in found.flags(Side.RIGHT)
    assert tbi(found, "right")[0] == "0.46"
    assert pattern(found, "right") == "CALCIFIED_PAD"


def test_case_15_a_toe_below_30_with_an_ulcer_is_urgent():
    found = read("arm 150, dp 60, pt 58, toe 28", "arm 148, dp 106, pt 104, toe 61", context=wound("right"))

    assert abi(found, "right") == ("0.40", "ABNORMAL_SEVERE")
    assert tbi(found, "right")[0] == "0.19"
    assert band(found, "toe_pressure", "right") == "WIFI_3"
    assert band(found, "ankle_pressure", "right") == "WIFI_2"
    assert band(found, "urgency", "right") == "URGENT_VASCULAR"
    # The index of 0.40 is not below 0.40 and is not among the reasons.
    assert found.of("urgency", Side.RIGHT).sentence == (
        "RIGHT: URGENT, toe pressure 28 mmHg (below 30) with an open wound. Tell the vascular team now."
    )
    assert abi(found, "left") == ("0.71", "ABNORMAL_MILD")
    assert tbi(found, "left")[0] == "0.41"
    assert band(found, "toe_pressure", "left") == "WIFI_0"
    assert found.of("urgency", Side.LEFT) is None


def test_case_16_low_with_a_wound_but_above_every_urgent_limit():
    found = read("arm 150, dp 70, pt 66, toe 35", "arm 144, dp 100, pt 98, toe 45", context=wound("right"))

    assert abi(found, "right") == ("0.47", "ABNORMAL_MODERATE")
    assert band(found, "ankle_pressure", "right") == "WIFI_1"
    assert "BOUNDARY" in found.flags(Side.RIGHT)
    assert band(found, "toe_pressure", "right") == "WIFI_2"
    assert found.of("urgency", Side.RIGHT) is None
    assert "TOE_LT_50_WITH_WOUND" in found.flags(Side.RIGHT)
    assert "ANKLE_LT_70_WITH_WOUND" not in found.flags(Side.RIGHT)
    assert abi(found, "left")[0] == "0.67"
    assert band(found, "ankle_pressure", "left") == "WIFI_1"
    assert band(found, "toe_pressure", "left") == "WIFI_1"
    assert tbi(found, "left")[0] == "0.30"


def test_case_17_no_signal_at_the_ankle_is_urgent_with_or_without_a_wound():
    found = read("arm 140, dp no_signal, pt no_signal, toe no_signal", "arm 136")

    assert abi(found, "right") == ("not stated", "ABNORMAL_SEVERE")
    assert {"ABSENT_SIGNAL_DP", "ABSENT_SIGNAL_PT"} <= set(found.flags(Side.RIGHT))
    assert band(found, "urgency", "right") == "URGENT_VASCULAR"


def test_case_18_without_an_arm_the_pressures_still_speak():
    found = read("arm not_done:fistula, dp 62, toe 34", "arm not_done:lymphoedema", context=wound("right"))

    assert found.of("arm_used").flags == ("NO_BRACHIAL",)
    assert abi(found, "right") == ("not stated", "NOT_ASSESSED")
    assert tbi(found, "right") == ("not stated", "NOT_ASSESSED")
    assert band(found, "ankle_pressure", "right") == "WIFI_2"
    assert band(found, "toe_pressure", "right") == "WIFI_2"
    assert {"ANKLE_LT_70_WITH_WOUND", "TOE_LT_50_WITH_WOUND"} <= set(found.flags(Side.RIGHT))


def test_case_19_the_higher_artery_counts_by_default():
    found = read("arm 140, dp 118, pt 98", "arm 138")

    assert abi(found, "right") == ("0.84", "ABNORMAL_MILD")


def test_case_20_a_low_second_artery_is_pointed_out():
    found = read("arm 140, dp 140, pt 118", "arm 138")

    assert abi(found, "right") == ("1.00", "NORMAL")
    assert "LOW_ANKLE_ABNORMAL" in found.flags(Side.RIGHT)


def test_cases_21_to_24_at_rest():
    limbs = ["arm 130, dp 132", "arm 120, dp 120", "arm 125, dp 120", "arm 130, dp 134"]

    found = [abi(read(limb), "right")[0] for limb in limbs]

    assert found == ["1.02", "1.00", "0.96", "1.03"]


def test_case_41_a_raised_foot_is_shown_as_measured_and_at_heart_level():
    raised = Conditions(position="foot_raised", heart_to_site_cm=Decimal(12))
    found = read("arm 140, toe 52", "arm 138", conditions=raised)

    toe = found.of("toe_pressure", Side.RIGHT)
    assert toe.value == Decimal(52)
    assert toe.shown == "52 mmHg (61.3 at heart level)"
    assert "PROVISIONAL" in toe.flags


def test_case_42_a_cold_toe_is_provisional_and_keeps_its_band():
    found = read("toe 41", right_toe_celsius=26)

    assert "COLD_TOE" in found.flags(Side.RIGHT)
    assert "PROVISIONAL" in found.of("toe_brachial_index", Side.RIGHT).flags
    assert band(found, "toe_pressure", "right") == "WIFI_1"


def test_case_45_a_fall_of_0_13_alone_is_not_significant():
    criteria = load_criteria("acc-aha-2024")
    earlier, later = read("arm 100, dp 92, pt 80"), read("arm 100, dp 79, pt 70")

    found = change_between(earlier, later, Side.RIGHT, "ankle_brachial_index", criteria)

    assert found.value == Decimal("-0.13")
    assert found.band == "WITHIN_NOISE"
    assert outcome_scale(-13) == -1
    assert outcome_scale(-13, categories_up=-1) == -2


def test_case_46_the_same_fall_is_noise_by_hand_and_real_by_machine():
    criteria = load_criteria("acc-aha-2024")
    by_hand = [read(f"toe {mmhg}") for mmhg in (60, 38)]
    by_machine = [read(f"toe {mmhg}", toe_technique="oscillometric") for mmhg in (60, 38)]

    hand = change_between(*by_hand, Side.RIGHT, "toe_pressure", criteria)
    machine = change_between(*by_machine, Side.RIGHT, "toe_pressure", criteria)

    assert (hand.value, hand.band) == (Decimal(-22), "WITHIN_NOISE")
    assert (machine.value, machine.band) == (Decimal(-22), "BEYOND_NOISE")


def test_case_47_no_trend_where_the_ankle_was_stiff():
    earlier, later = read("arm 100, dp 145, pt 140, toe 60"), read("arm 100, dp 102, pt 100, toe 58")

    ankle = comparability(earlier, later, Side.RIGHT, "ankle_brachial_index")
    toe = comparability(earlier, later, Side.RIGHT, "toe_brachial_index")

    assert ankle == ("the ankle could not be measured reliably at the earlier exam: use the toe",)
    assert toe == ()


def shown_difference(found):
    return found.of("arm_difference").shown


def test_a_toe_index_of_0_66_is_abnormal_under_0_70_and_normal_under_0_64():
    """Clinical reference, section 10, last rule."""
    found = [read("arm 100, toe 66", criteria=name) for name in ("acc-aha-2024", "older-laboratory")]

    assert [band(one, "toe_brachial_index", "right") for one in found] == ["ABNORMAL", "NORMAL"]
