"""The tables of the clinical reference: rounding (1.4), bands (2), four criteria (10), noise (7)."""

from decimal import Decimal
from itertools import product

import numpy as np
import pytest

from exams.hemodynamics import (
    REPEATABILITY,
    Context,
    InputError,
    Interval,
    NotStated,
    Side,
    criteria_names,
    load_criteria,
    outcome_scale,
)
from exams.hemodynamics.bands import BANDS, PATTERN_TABLE, index_band, pressure_band
from exams.hemodynamics.exact import index_hundredths
from tests.hemodynamics.readings import abi, arm_used, band, pattern, read, tbi, wound


@pytest.mark.parametrize(
    ("site_mmhg", "arm_mmhg", "hundredths"),
    [
        (181, 200, 91),
        (199, 200, 100),
        (281, 200, 141),
        (141, 200, 71),
        (81, 200, 41),
        (79, 200, 40),
        (114, 126, 90),
        (136, 150, 91),
    ],
)
def test_an_index_is_rounded_half_up_to_hundredths(site_mmhg, arm_mmhg, hundredths):
    """Clinical reference 1.4: two decimals ACC16; ties upward, ours."""
    assert index_hundredths(site_mmhg, arm_mmhg) == hundredths


def test_a_half_mmhg_ties_upward_too():
    """Clinical reference 1.4, last row: 90.5 over 100."""
    assert index_hundredths(181, 200) == 91


def test_an_arm_of_zero_is_refused():
    with pytest.raises(InputError) as refused:
        index_hundredths(100, 0)

    assert refused.value.code == "arm.not_positive"


def test_gaps_between_printed_limits_are_closed_by_rounding():
    """Clinical reference 1.4: 154 pairs lie strictly between 0.90 and 0.91, 100 between 0.99 and 1.00."""
    pressures, arms = np.meshgrid(np.arange(20, 261), np.arange(90, 201))

    def strictly_between(low, high):
        over = 100 * pressures > low * arms
        under = 100 * pressures < high * arms
        return int((over & under).sum())

    assert strictly_between(90, 91) == 154
    assert strictly_between(99, 100) == 100


BAND_EDGES = {
    # Clinical reference 10: last hundredths of each band, then the code.
    "acc-aha-2024": [
        (0, 40, "ABNORMAL_SEVERE"),
        (41, 70, "ABNORMAL_MODERATE"),
        (71, 90, "ABNORMAL_MILD"),
        (91, 99, "BORDERLINE"),
        (100, 140, "NORMAL"),
        (141, 600, "NON_COMPRESSIBLE"),
    ],
    "aha-2012": [
        (0, 40, "ABNORMAL_SEVERE"),
        (41, 70, "ABNORMAL_MODERATE"),
        (71, 90, "ABNORMAL_MILD"),
        (91, 100, "BORDERLINE"),
        (101, 140, "NORMAL"),
        (141, 600, "NON_COMPRESSIBLE"),
    ],
    "iwgdf-2023": [
        (0, 40, "ABNORMAL_SEVERE"),
        (41, 70, "ABNORMAL_MODERATE"),
        (71, 89, "ABNORMAL_MILD"),
        (90, 130, "NORMAL"),
        (131, 600, "NON_COMPRESSIBLE"),
    ],
    "older-laboratory": [
        (0, 30, "ABNORMAL_SEVERE"),
        (31, 70, "ABNORMAL_MODERATE"),
        (71, 90, "ABNORMAL_MILD"),
        (91, 130, "NORMAL"),
        (131, 600, "NON_COMPRESSIBLE"),
    ],
}


@pytest.mark.parametrize(
    ("name", "low", "high", "code"), [(name, *row) for name, rows in BAND_EDGES.items() for row in rows]
)
def test_every_hundredth_lies_in_the_band_the_criteria_print(name, low, high, code):
    """Clinical reference 2.1 and 10 (ACC24, AHA12, IWG23, older pages)."""
    bands = load_criteria(name).index_bands["ankle_brachial_index"]

    found = index_band(np.arange(low, high + 1), bands)

    assert {BANDS[place] for place in found} == {code}


@pytest.mark.parametrize(
    ("name", "highest_abnormal"),
    [("acc-aha-2024", 70), ("aha-2012", 70), ("iwgdf-2023", 69), ("older-laboratory", 63)],
)
def test_the_toe_index_limit_of_each_criteria(name, highest_abnormal):
    """Clinical reference 2.3 and 10 (ACC16, IWG23, Carter and Lezack 1971)."""
    bands = load_criteria(name).index_bands["toe_brachial_index"]

    found = [
        BANDS[place]
        for place in index_band(np.array([0, highest_abnormal, highest_abnormal + 1, 600]), bands)
    ]

    assert found == ["ABNORMAL", "ABNORMAL", "NORMAL", "NORMAL"]


@pytest.mark.parametrize(
    ("measure", "half_mmhg", "code"),
    [
        ("toe_pressure", 59, "WIFI_3"),
        ("toe_pressure", 60, "WIFI_2"),
        ("toe_pressure", 79, "WIFI_2"),
        ("toe_pressure", 80, "WIFI_1"),
        ("toe_pressure", 119, "WIFI_1"),
        ("toe_pressure", 120, "WIFI_0"),
        ("ankle_pressure", 99, "WIFI_3"),
        ("ankle_pressure", 100, "WIFI_2"),
        ("ankle_pressure", 139, "WIFI_2"),
        ("ankle_pressure", 140, "WIFI_1"),
        ("ankle_pressure", 200, "WIFI_1"),
        ("ankle_pressure", 201, "WIFI_0"),
    ],
)
def test_pressures_are_banded_as_wifi_prints_them(measure, half_mmhg, code):
    """Clinical reference 2.4 (WIFI14); half a mmHg below a limit is below it."""
    bands = load_criteria("acc-aha-2024").pressure_bands[measure]

    assert BANDS[pressure_band(np.array([half_mmhg * 4]), bands)[0]] == code


@pytest.mark.parametrize(
    ("right", "code"),
    [
        ("dp 90, toe 70", "PAD_CONCORDANT"),
        ("dp 90, toe 71", "ABI_ONLY"),
        ("dp 91, toe 70", "SUSPECT_CALCIFICATION_OR_DISTAL"),
        ("dp 140, toe 70", "SUSPECT_CALCIFICATION_OR_DISTAL"),
        ("dp 99, toe 71", "BORDERLINE"),
        ("dp 100, toe 71", "NORMAL"),
        ("dp 141, toe 70", "CALCIFIED_PAD"),
        ("dp 141, toe 71", "CALCIFIED_NO_TOE_DEFICIT"),
        ("dp 141", "INCOMPLETE_NEEDS_TBI"),
        ("dp not_occludable, toe 70", "CALCIFIED_PAD"),
        ("dp not_occludable, toe 71", "CALCIFIED_NO_TOE_DEFICIT"),
        ("dp not_occludable", "INCOMPLETE_NEEDS_TBI"),
        ("dp 95", "INCOMPLETE_ADVISE_TBI"),
        ("dp 120", "INCOMPLETE_ADVISE_TBI"),
        ("dp 90", "PAD_BY_ANKLE"),
        ("dp not_occludable, pt 80, toe 70", "CALCIFIED_PAD"),
        ("dp not_occludable, pt 80, toe 71", "CALCIFIED_NO_TOE_DEFICIT"),
        ("dp not_occludable, pt 80", "INCOMPLETE_NEEDS_TBI"),
        ("dp no_signal, pt no_signal, toe 70", "PAD_CONCORDANT"),
        ("dp no_signal, pt no_signal, toe no_signal", "PAD_CONCORDANT"),
        ("dp no_signal, pt no_signal, toe 80", "PAD_BY_ANKLE"),
        ("dp no_signal, pt no_signal", "PAD_BY_ANKLE"),
        ("toe 70", "NO_INDEX"),
    ],
)
def test_the_pattern_of_ankle_and_toe(right, code):
    """Clinical reference 2.2, every row, over an arm of 100; nothing is known of diabetes or kidneys."""
    assert pattern(read(f"arm 100, {right}"), "right") == code


@pytest.mark.parametrize(("right", "code"), [("dp 95", "BORDERLINE"), ("dp 120", "NORMAL")])
def test_without_diabetes_or_kidney_disease_the_ankle_decides_alone(right, code):
    """Clinical reference 2.2."""
    context = Context(diabetes="no", kidney_disease="no")

    assert pattern(read(f"arm 100, {right}", context=context), "right") == code


def test_the_pattern_table_has_a_code_in_every_cell():
    assert all(code for row in PATTERN_TABLE.values() for code in row)
    assert [len(row) for row in PATTERN_TABLE.values()] == [3] * 7


@pytest.mark.parametrize(
    ("name", "urgent"),
    [
        ("acc-aha-2024", [False, True, False, True, False, True]),
        ("aha-2012", [True, True, False, True, False, True]),
        ("iwgdf-2023", [False, True, False, True, False, True]),
        ("older-laboratory", [False, False, False, True, False, True]),
    ],
)
def test_each_urgency_rule_at_its_limits(name, urgent):
    """Clinical reference 4.1 and 10: index 0.40/0.39, ankle 50/49.5, toe 30/29.5, on a foot with a wound."""
    limbs = ["arm 200, dp 80", "arm 200, dp 78", "dp 50", "dp 49.5", "toe 30", "toe 29.5"]

    found = [read(limb, criteria=name, context=wound()).of("urgency", Side.RIGHT) for limb in limbs]

    assert [finding is not None for finding in found] == urgent


def test_the_same_exam_under_all_four_criteria():
    """Clinical reference 10: an index of 0.90, 1.00 and 1.35, a toe index of 0.66 and 0.70."""
    found = {
        name: (
            abi(read("arm 100, dp 90", criteria=name), "right")[1],
            abi(read("arm 100, dp 100", criteria=name), "right")[1],
            abi(read("arm 100, dp 135", criteria=name), "right")[1],
            tbi(read("arm 100, toe 66", criteria=name), "right")[1],
            tbi(read("arm 100, toe 70", criteria=name), "right")[1],
        )
        for name in ("acc-aha-2024", "aha-2012", "iwgdf-2023", "older-laboratory")
    }

    assert found == {
        "acc-aha-2024": ("ABNORMAL_MILD", "NORMAL", "NORMAL", "ABNORMAL", "ABNORMAL"),
        "aha-2012": ("ABNORMAL_MILD", "BORDERLINE", "NORMAL", "ABNORMAL", "ABNORMAL"),
        "iwgdf-2023": ("NORMAL", "NORMAL", "NON_COMPRESSIBLE", "ABNORMAL", "NORMAL"),
        "older-laboratory": ("ABNORMAL_MILD", "NORMAL", "NON_COMPRESSIBLE", "NORMAL", "NORMAL"),
    }


def test_the_default_criteria_come_first_and_the_survey_is_among_them():
    assert criteria_names() == (
        "acc-aha-2024",
        "aha-2012",
        "iwgdf-2023",
        "older-laboratory",
        "population-survey",
    )


@pytest.mark.parametrize(
    ("place", "sd_of_differences", "sd_within", "reference_change"),
    [
        (0, 13.27, 9.39, 26.0),
        (1, 13.29, 9.39, 26.0),
        (2, 0.128, 0.090, 0.25),
        (3, 0.110, 0.078, 0.215),
        (4, 9.06, 6.40, 17.8),
        (5, 0.092, 0.065, 0.18),
        (6, 11.25, 7.95, 22.1),
        (7, 0.082, 0.058, 0.16),
    ],
)
def test_what_follows_from_published_limits_of_agreement(
    place, sd_of_differences, sd_within, reference_change
):
    """Clinical reference 7, derived columns, printed to 2 to 4 digits (hence the tolerance of 0.5 %)."""
    study = REPEATABILITY[place]

    assert study.sd_of_differences == pytest.approx(sd_of_differences, rel=5e-3)
    assert study.sd_within == pytest.approx(sd_within, rel=7e-3)
    assert study.reference_change == pytest.approx(reference_change, rel=5e-3)


def test_the_interval_of_a_toe_index_from_pooled_noise():
    """Clinical reference 7: toe 60, arm 140, SDs 4 and 4.7 give 0.43, SD 0.032, about 0.06 to either side."""
    found = read("arm 140, toe 60").of("toe_brachial_index", Side.RIGHT)

    assert found.value == Decimal("0.43")
    assert found.interval.sd == Decimal("0.032")
    assert (found.interval.low, found.interval.high) == (Decimal("0.37"), Decimal("0.49"))


def test_the_interval_widens_with_a_clinics_own_noise():
    """Clinical reference 7: SDs 8 and 14 give SD 0.071 by first order; the integral gives 0.073."""
    own = {("toe", "two_cuffs"): Decimal(8), ("arm", "doppler"): Decimal(14)}

    found = read("arm 140, toe 60", context=Context(reading_sd_mmhg=own)).of("toe_brachial_index", Side.RIGHT)

    assert isinstance(found.interval, Interval)
    assert float(found.interval.sd) == pytest.approx(0.071, abs=0.003)


@pytest.mark.parametrize(
    ("hundredths", "how", "score"),
    [
        (20, {"index_after_hundredths": 95, "symptom_free": True}, 3),
        (11, {"categories_up": 1}, 2),
        (11, {}, 1),
        (5, {"categories_up": 1}, 1),
        (10, {}, 0),
        (-10, {}, 0),
        (-11, {}, -1),
        (-5, {"categories_up": -1}, -1),
        (-11, {"categories_up": -1}, -2),
        (0, {"minor_amputation": True}, -2),
        (0, {"categories_up": -2}, -3),
        (0, {"major_amputation": True}, -3),
    ],
)
def test_the_outcome_scale(hundredths, how, score):
    """RUTH97 as reprinted; clinical reference 7."""
    assert outcome_scale(hundredths, **how) == score


def test_the_outcome_scale_is_not_valid_without_an_index():
    assert isinstance(outcome_scale(None), NotStated)


@pytest.mark.parametrize(
    ("ankle", "arm"),
    list(product(("higher", "lower", "mean"), ("higher", "mean", "mean_if_close_else_higher"))),
)
def test_every_published_numerator_over_every_published_denominator(ankle, arm, criteria_with):
    """Clinical reference 1.2 and case 19: DP 118, PT 98; arms 140 and 138."""
    numerators = {"higher": 118, "lower": 98, "mean": 108}
    denominators = {"higher": 140, "mean": 139, "mean_if_close_else_higher": 139}

    found = criteria_with(ankle=ankle, arm=arm).read("arm 140, dp 118, pt 98", "arm 138")

    expected = index_hundredths(numerators[ankle], denominators[arm])
    assert abi(found, "right")[0] == f"{expected / 100:.2f}"


@pytest.mark.parametrize(("left", "used"), [(131, "135.5 mmHg"), (130, "140 mmHg"), (129, "140 mmHg")])
def test_arms_10_apart_are_no_longer_averaged(left, used, criteria_with):
    """getABI 2007: mean if they differ by less than 10, else the higher; clinical reference 1.2."""
    found = criteria_with(arm="mean_if_close_else_higher").read("arm 140", f"arm {left}")

    assert arm_used(found) == used


def test_case_19_mean_ankle_over_the_higher_arm(criteria_with):
    """Clinical reference 9, case 19: 108 over 140 is 0.77."""
    assert abi(criteria_with(ankle="mean").read("arm 140, dp 118, pt 98", "arm 138"), "right") == (
        "0.77",
        "ABNORMAL_MILD",
    )
    assert abi(criteria_with(ankle="lower").read("arm 140, dp 118, pt 98", "arm 138"), "right") == (
        "0.70",
        "ABNORMAL_MODERATE",
    )


@pytest.mark.parametrize(
    ("right", "left", "used"),
    [
        ("arm 151->139", "arm 140", "140 mmHg"),
        ("arm 150->139", "arm 140", "144.5 mmHg"),
        ("arm 151->139", "arm not_done", "145 mmHg"),
    ],
)
def test_a_first_arm_above_the_second_is_dropped_where_the_criteria_say_so(right, left, used, criteria_with):
    """Clinical reference 1.1f, second rule (from memory): more than 10 above the second arm."""
    assert arm_used(criteria_with(arm_repeat="drop_first_if_over_second_arm").read(right, left)) == used


def test_band_codes_of_an_index_are_the_ones_of_the_clinical_reference():
    assert band(read("arm 100, dp 90"), "ankle_brachial_index", "left") == "NOT_ASSESSED"
