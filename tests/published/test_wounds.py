"""The wound grade, infection, SINBAD, foot risk and area reduction: rows and worked cases 33-40.

Source: clinical reference 3.1, 4.3 to 4.6 and 9; the papers are named at each test.
"""

from datetime import date
from decimal import Decimal

import pytest

from exams.hemodynamics import (
    FootFacts,
    NotStated,
    area_course,
    area_reduction,
    foot_risk,
    iwgdf_infection,
    load_criteria,
    recall_window,
    sinbad,
    wifi_infection,
    wound_grade,
)
from tests.hemodynamics.wound_words import areas, signs, wound

RULES = load_criteria("acc-aha-2024").outlook
START = date(2026, 1, 1)
HEEL = {"region": "heel", "calcaneus": "no"}
NO_FACTS = dict.fromkeys(FootFacts.__slots__, "no")


@pytest.mark.parametrize(
    ("seen", "grade"),
    [
        ({}, 1),
        ({"region": "leg"}, 1),
        ({"deepest": "bone", "bone_only_in_distal_phalanx": "yes"}, 1),
        ({"deepest": "tendon"}, 2),
        ({"deepest": "muscle"}, 2),
        ({"deepest": "joint"}, 2),
        ({"deepest": "bone", "bone_only_in_distal_phalanx": "no"}, 2),
        (HEEL, 2),
        ({"gangrene": "digits"}, 2),
        ({"deepest": "tendon", "extensive": "yes"}, 3),
        ({"region": "midfoot", "deepest": "bone", "extensive": "yes"}, 3),
        ({**HEEL, "deepest": "muscle"}, 3),
        ({**HEEL, "calcaneus": "yes"}, 3),
        ({"gangrene": "extensive"}, 3),
        ({**HEEL, "gangrene": "heel"}, 3),
    ],
)
def test_the_wound_grade_follows_the_printed_rows(seen, grade):
    """Mills JL, et al. J Vasc Surg 2014 (WIfI), as worded in two clinical references."""
    assert wound_grade(wound(**seen)).value == grade


def test_without_an_ulcer_the_wound_grade_is_0():
    assert wound_grade(None).value == 0


def test_case_38_warmth_and_pus_with_redness_of_15_mm_is_mild():
    found = signs(warmth="yes", pus="yes", erythema_mm=15, temperature="37.2", heart_rate=88)

    assert iwgdf_infection(found).shown == "2"
    assert wifi_infection(found).shown == "fI1"


def test_case_39_with_fever_and_a_fast_heart_it_is_severe():
    found = signs(warmth="yes", pus="yes", erythema_mm=15, temperature="38.4", heart_rate=96)

    assert iwgdf_infection(found).shown == "4"
    assert wifi_infection(found).shown == "fI3"


def test_case_40_redness_of_exactly_2_cm_parts_the_rules_of_2012_and_2023():
    found = signs(swelling="yes", tenderness="yes", erythema_mm=20)

    assert iwgdf_infection(found, "idsa2012").value == 2
    assert iwgdf_infection(found, "iwgdf2023").value == 3
    assert wifi_infection(found).value == 1


@pytest.mark.parametrize(
    ("seen", "grade"),
    [
        ({}, 1),
        ({"warmth": "yes"}, 1),
        ({"warmth": "yes", "erythema_mm": 5}, 1),
        ({"warmth": "yes", "erythema_mm": 6}, 2),
        ({"swelling": "yes", "tenderness": "yes"}, 2),
        ({"warmth": "yes", "erythema_mm": 19}, 2),
        ({"warmth": "yes", "erythema_mm": 21}, 3),
        ({"warmth": "yes", "pus": "yes", "deeper": "yes"}, 3),
        ({"warmth": "yes", "pus": "yes", "temperature": "35.9", "heart_rate": 91}, 4),
        ({"warmth": "yes", "pus": "yes", "temperature": "38.0", "heart_rate": 91}, 2),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "respiratory_rate": 21}, 4),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 90, "respiratory_rate": 21}, 2),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "paco2_mmhg": Decimal(31)}, 4),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "paco2_mmhg": Decimal(32)}, 2),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "white_cells_10_9_l": Decimal("12.1")}, 4),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "white_cells_10_9_l": Decimal("3.9")}, 4),
        ({"warmth": "yes", "pus": "yes", "heart_rate": 91, "white_cells_10_9_l": Decimal(12)}, 2),
    ],
)
def test_each_limit_of_the_infection_grade_is_as_printed(seen, grade):
    """IWGDF/IDSA as in PMC6174858 and PMC7951343."""
    assert iwgdf_infection(signs(**seen)).value == grade


def test_exactly_10_percent_band_forms_count_in_2012_only():
    seen = {"warmth": "yes", "pus": "yes", "heart_rate": 91, "band_forms_percent": Decimal(10)}

    assert iwgdf_infection(signs(**seen), "idsa2012").value == 4
    assert iwgdf_infection(signs(**seen), "iwgdf2023").value == 2


@pytest.mark.parametrize(
    ("fever", "shown"), [({}, "3 (O)"), ({"temperature": "38.5", "heart_rate": 99}, "4 (O)")]
)
def test_bone_infection_adds_the_suffix_to_3_and_4_since_2019(fever, shown):
    found = signs(warmth="yes", pus="yes", osteomyelitis="yes", **fever)

    assert iwgdf_infection(found).shown == shown
    assert iwgdf_infection(found, "idsa2012").shown == shown[0]


def test_case_37_sinbad_is_4_and_goes_with_longer_healing():
    """Ince P, et al. Diabetes Care 2008."""
    ulcer = wound(region="hindfoot", deepest="tendon", traced_area_mm2=80)

    found = sinbad(ulcer, FootFacts(pulse_felt="no", sensation_lost="yes"))

    assert found.value == 4
    assert found.flags == ("LONGER_HEALING",)


@pytest.mark.parametrize(
    ("seen", "facts", "score"),
    [
        ({}, {}, 0),
        ({"region": "midfoot"}, {}, 1),
        ({"region": "heel"}, {}, 1),
        ({}, {"reduced_flow": "yes"}, 1),
        ({}, {"pulse_felt": "yes", "reduced_flow": "unknown"}, 0),
        ({}, {"sensation_lost": "yes"}, 1),
        ({"infection": signs(warmth="yes", pus="yes")}, {}, 1),
        ({"traced_area_mm2": 99}, {}, 0),
        ({"traced_area_mm2": 100}, {}, 1),
        ({"traced_area_mm2": None, "length_mm": 10, "width_mm": 10}, {}, 1),
        ({"deepest": "subcutis"}, {}, 0),
        ({"deepest": "muscle"}, {}, 1),
    ],
)
def test_each_item_of_sinbad_is_one_point(seen, facts, score):
    plain = {"traced_area_mm2": 50, "deepest": "skin"}
    foot = FootFacts(**{"sensation_lost": "no", "pulse_felt": "yes", **facts})

    assert sinbad(wound(**{**plain, **seen}), foot).value == score


@pytest.mark.parametrize(
    ("facts", "category"),
    [
        ({}, 0),
        ({"deformity": "yes"}, 0),
        ({"sensation_lost": "yes"}, 1),  # case 35
        ({"arterial_disease": "yes"}, 1),
        ({"sensation_lost": "yes", "arterial_disease": "yes"}, 2),
        ({"sensation_lost": "yes", "deformity": "yes"}, 2),
        ({"arterial_disease": "yes", "deformity": "yes"}, 2),  # case 36
        ({"sensation_lost": "yes", "end_stage_kidney_disease": "yes"}, 3),  # case 35, on dialysis
        ({"arterial_disease": "yes", "past_ulcer": "yes"}, 3),
        ({"arterial_disease": "yes", "past_minor_amputation": "yes"}, 3),
        ({"sensation_lost": "yes", "past_major_amputation": "yes"}, 3),
    ],
)
def test_the_foot_risk_category_follows_the_printed_table(facts, category):
    """Schaper NC, et al. Diabetes Metab Res Rev 2020, table 1."""
    assert foot_risk(FootFacts(**{**NO_FACTS, **facts})).value == category


@pytest.mark.parametrize(
    ("category", "first", "last"),
    [
        (0, date(2027, 1, 31), date(2027, 1, 31)),
        (1, date(2026, 7, 31), date(2027, 1, 31)),
        (2, date(2026, 4, 30), date(2026, 7, 31)),
        (3, date(2026, 2, 28), date(2026, 4, 30)),
    ],
)
def test_the_interval_of_each_category_is_as_printed(category, first, last):
    assert recall_window(category, date(2026, 1, 31)) == (first, last)


def test_case_33_a_wound_that_halves_reaches_the_guideline_but_not_the_midpoint():
    """Global vascular guidelines 2019 (50 %); Sheehan P, et al. Diabetes Care 2003 (53 %)."""
    found = area_course(areas((0, 4.0), (28, 1.9)), START, date(2026, 1, 29), RULES)

    assert found.percent == Decimal("52.5")
    assert found.shrinking == "yes"
    assert "reaches the 50 % of the guideline, not above the 53 %" in found.sentence
    assert found.flags == ()


def test_case_34_a_wound_that_grows_heals_slowly():
    found = area_course(areas((0, 2.0), (28, 2.6)), START, date(2026, 1, 29), RULES)

    assert found.percent == Decimal("-30.0")
    assert found.flags == ("SLOW_HEALING",)
    assert "review the plan and vascular imaging" in found.sentence


@pytest.mark.parametrize(("day", "counts"), [(20, False), (21, True), (35, True), (36, False)])
def test_four_weeks_are_21_to_35_days(day, counts):
    found = area_course(areas((0, 4.0), (day, 2.0)), START, date(2026, 3, 1), RULES)

    assert (found.percent == Decimal("50.0")) is counts


@pytest.mark.parametrize(
    ("day", "flags"),
    [(27, ()), (28, ("SLOW_HEALING",)), (41, ("SLOW_HEALING",)), (42, ("SLOW_HEALING", "IMAGE_REGARDLESS"))],
)
def test_slow_healing_counts_from_28_days_and_imaging_regardless_from_42(day, flags):
    today = date.fromordinal(START.toordinal() + day)

    assert area_course(areas((0, 4.0), (day, 3.0)), START, today, RULES).flags == flags


def test_a_first_area_of_0_has_no_reduction():
    first, second = areas((0, 0), (28, 1.0))

    assert area_reduction(first, second) == NotStated("the first area is 0")
