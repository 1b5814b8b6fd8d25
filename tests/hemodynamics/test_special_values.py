"""Values that are not plain numbers (clinical reference 1.5), arms (1.3) and repeats (1.1f, 1.1k)."""

from decimal import Decimal

import pytest

from exams.hemodynamics import (
    Context,
    InputError,
    LimbFacts,
    MeasuredLimb,
    NotStated,
    Outcome,
    Side,
    Site,
    SiteReading,
    pressure,
)
from tests.hemodynamics.readings import abi, arm_used, band, pattern, read, shown, tbi, wound

NEITHER = Context(diabetes="no", kidney_disease="no")


@pytest.mark.parametrize(
    "ankle", ["dp not_occludable_at_250", "dp not_occludable", "dp not_occludable_at_212"]
)
def test_a_cuff_that_could_not_close_the_artery_shows_a_stiff_one(ankle):
    """At 250 mmHg, at an unknown pressure, or at 1.41 of an arm of 150 (non-compressible by the criteria)."""
    assert abi(read(f"arm 150, {ankle}"), "right") == ("not stated", "NON_COMPRESSIBLE")


def test_a_cuff_that_stopped_too_low_gives_a_lower_bound():
    found = read("arm 150, dp not_occludable_at_180")

    assert abi(found, "right") == ("at least 1.20", "NOT_ASSESSED")
    assert "LOWER_BOUND" in found.of("ankle_brachial_index", Side.RIGHT).flags
    assert pattern(found, "right") == "INCOMPLETE_NEEDS_TBI"
    assert band(found, "ankle_pressure", "right") == "NOT_ASSESSED"


def test_the_limit_of_a_stiff_artery_is_that_of_the_criteria():
    assert (
        abi(read("arm 150, dp not_occludable_at_200", criteria="iwgdf-2023"), "right")[1]
        == "NON_COMPRESSIBLE"
    )
    assert abi(read("arm 150, dp not_occludable_at_200"), "right")[1] == "NOT_ASSESSED"


@pytest.mark.parametrize(
    ("criteria", "code"), [("acc-aha-2024", "BORDERLINE"), ("iwgdf-2023", "NOT_ASSESSED")]
)
def test_a_mixed_ankle_is_never_normal(criteria, code):
    found = read("arm 100, dp not_occludable, pt 110", criteria=criteria)

    assert abi(found, "right") == ("1.10 (unreliable)", code)
    assert band(found, "ankle_pressure", "right") == "NOT_ASSESSED"


def test_the_low_artery_of_a_mixed_ankle_still_counts_for_urgency():
    found = read("arm 150, dp not_occludable, pt 44", context=wound())

    assert band(found, "urgency", "right") == "URGENT_VASCULAR"
    assert band(found, "ankle_pressure", "right") == "WIFI_3"


def test_a_stiff_toe_artery_is_never_read_as_good_flow():
    found = read("arm 100, dp 110, toe not_occludable_at_200")

    assert tbi(found, "right") == ("not stated", "NOT_ASSESSED")
    assert band(found, "toe_pressure", "right") == "NOT_ASSESSED"
    assert "TOE_NOT_OCCLUDABLE" in found.flags(Side.RIGHT)
    assert pattern(found, "right") == "INCOMPLETE_ADVISE_TBI"


def test_a_flat_toe_is_below_detection_and_urgent_at_once():
    found = read("arm 100, dp 110, toe no_signal", right_toe_celsius=24)

    assert shown(found, "toe_pressure", "right") == "below detection"
    assert found.of("toe_brachial_index", Side.RIGHT).value == NotStated("no signal at the toe")
    assert band(found, "urgency", "right") == "URGENT_VASCULAR"
    assert "do not wait for a warm repeat" in found.of("urgency", Side.RIGHT).sentence
    assert "WARM_AND_REPEAT" in found.flags(Side.RIGHT)


def test_one_silent_artery_leaves_the_index_to_the_other():
    found = read("arm 100, dp no_signal, pt 80")

    assert abi(found, "right") == ("0.80", "ABNORMAL_MILD")
    assert "ABSENT_SIGNAL_DP" in found.flags(Side.RIGHT)
    assert "ONE_ARTERY" not in found.flags(Side.RIGHT)


def test_no_signal_at_the_only_artery_tried_asks_for_the_other():
    found = read("arm 100, dp no_signal")

    assert abi(found, "right") == ("not stated", "NOT_ASSESSED")
    assert found.of("urgency", Side.RIGHT) is None
    assert found.of("ankle_pressure", Side.RIGHT).sentence == (
        "RIGHT no signal at the only ankle artery tried: look for the other artery."
    )


def test_no_flow_where_there_was_flow_before_is_an_emergency():
    found = read("dp no_signal, pt no_signal", context=Context(right=LimbFacts(had_signal_before=True)))

    assert found.of("urgency", Side.RIGHT).sentence == (
        "RIGHT: EMERGENCY, possible acute ischaemia: no signal at either ankle artery, where flow was found "
        "before. Call the vascular team now."
    )


def test_the_peroneal_artery_counts_only_where_the_other_two_gave_nothing():
    alone = read("arm 100, dp not_done, pt no_signal, peroneal 60")
    beside = read("arm 100, dp 80, peroneal 95")

    assert abi(alone, "right")[0] == "0.60"
    assert "PERONEAL" in alone.flags(Side.RIGHT)
    assert abi(beside, "right")[0] == "0.80"
    assert "PERONEAL" not in beside.flags(Side.RIGHT)


@pytest.mark.parametrize(
    ("toe", "code", "words"),
    [
        ("toe 90", "PAD_BY_ANKLE", "flow found at the ankle only in the peroneal artery"),
        ("toe 60", "PAD_CONCORDANT", "…; the toe is reduced too"),
        ("toe no_signal", "PAD_CONCORDANT", "…; none found in the toe"),
    ],
)
def test_a_peroneal_pressure_never_reassures_where_both_other_arteries_are_silent(toe, code, words):
    # Clinical reference 2.2: no signal at both, any. The foot is urgent: it cannot read normal as well.
    found = read(f"arm 100, dp no_signal, pt no_signal, peroneal 105, {toe}", context=NEITHER)

    assert abi(found, "right") == ("1.05", "NORMAL")
    assert pattern(found, "right") == code
    assert found.of("pattern", Side.RIGHT).band_words == words.replace(
        "…", "flow found at the ankle only in the peroneal artery"
    )
    assert band(found, "urgency", "right") == "URGENT_VASCULAR"
    assert found.of("ankle_pressure", Side.RIGHT).sentence == (
        "RIGHT ankle pressure taken at the peroneal artery: the other two gave nothing."
    )


def test_an_index_from_the_peroneal_artery_is_not_said_to_come_from_another():
    found = read("arm 100, dp no_signal, pt not_done, peroneal 80")

    assert found.of("ankle_pressure", Side.RIGHT).sentence == (
        "RIGHT no signal at the dorsalis pedis artery. "
        "RIGHT ankle pressure taken at the peroneal artery: the other two gave nothing."
    )


@pytest.mark.parametrize(
    ("toe", "code", "words"),
    [
        ("toe 90", "CALCIFIED_NO_TOE_DEFICIT", "the toe is not reduced"),
        ("toe 60", "CALCIFIED_PAD", "the toe shows arterial disease"),
        (
            "toe not_done:pain",
            "INCOMPLETE_NEEDS_TBI",
            "no conclusion without a toe pressure: arterial disease cannot be ruled out",
        ),
    ],
)
def test_a_cuff_that_stopped_too_low_is_not_called_a_stiff_artery(toe, code, words):
    found = read(f"arm 100, dp not_occludable_at_120, pt not_occludable_at_120, {toe}")

    assert (pattern(found, "right"), band(found, "ankle_brachial_index", "right")) == (code, "NOT_ASSESSED")
    assert found.of("pattern", Side.RIGHT).band_words == (
        f"ankle pressure not reached, the cuff stopped too low; {words}"
    )


def test_one_artery_on_a_foot_with_a_wound_is_never_normal():
    assert pattern(read("arm 100, dp 110, toe 90", context=wound()), "right") == "INCOMPLETE_ONE_ARTERY"
    assert pattern(read("arm 100, dp 110, toe 90"), "right") == "NORMAL"
    assert "ONE_ARTERY" in read("arm 100, dp 110").flags(Side.RIGHT)


def test_the_second_toe_stands_in_for_an_amputated_hallux_and_is_named():
    found = read("arm 100, toe not_done:amputated, toe2 60")

    assert tbi(found, "right") == ("0.60", "ABNORMAL")
    assert found.of("toe_brachial_index", Side.RIGHT).sentence.startswith(
        "RIGHT toe-brachial index 0.60 (second toe): reduced"
    )


def test_a_lower_second_toe_counts_for_urgency_but_not_for_the_index():
    found = read("arm 100, toe 62, toe2 24", context=wound())

    assert tbi(found, "right")[0] == "0.62"
    assert found.of("toe_2_pressure", Side.RIGHT).value == Decimal(24)
    assert "second toe pressure 24 mmHg (below 30)" in found.of("urgency", Side.RIGHT).sentence


@pytest.mark.parametrize(
    ("attempts", "used"),
    [("100->108", "104 mmHg"), ("100->111", "105.5 mmHg"), ("100->120->106", "106 mmHg")],
)
def test_repeats_at_a_site_give_the_mean_of_two_and_the_median_of_three(attempts, used):
    assert shown(read(f"dp {attempts}"), "dorsalis_pedis_pressure", "right") == used


def test_two_readings_more_than_10_apart_ask_once_for_a_third():
    two, three = read("dp 100->111, toe 40->55"), read("dp 100->111->104")

    assert two.of("repeats", Side.RIGHT).sentence == (
        "RIGHT dorsalis pedis and hallux: two readings more than 10 mmHg apart; take a third."
    )
    assert three.of("repeats", Side.RIGHT) is None


def test_the_latest_answer_at_a_site_stands():
    assert shown(read("dp no_signal->60"), "dorsalis_pedis_pressure", "right") == "60 mmHg"
    assert shown(read("dp 60->no_signal"), "dorsalis_pedis_pressure", "right") == "no signal"
    assert shown(read("dp 60->not_done"), "dorsalis_pedis_pressure", "right") == "60 mmHg"


def test_the_rule_for_repeats_holds_for_the_arm_measured_first_only():
    left_first = read("arm 140", "arm 158->144", first_arm=Side.LEFT)
    right_first = read("arm 140", "arm 158->144", first_arm=Side.RIGHT)

    assert arm_used(left_first) == "144 mmHg"
    assert arm_used(right_first) == "151 mmHg"


def test_a_repeated_arm_is_taken_as_the_first_where_nobody_said():
    assert arm_used(read("arm 140", "arm 158->144", first_arm=None)) == "144 mmHg"


def test_further_repeats_of_the_first_arm_give_the_median_of_those_kept():
    assert arm_used(read("arm 158->144->150")) == "147 mmHg"
    assert arm_used(read("arm 150->144->147")) == "147 mmHg"


def test_the_higher_arm_counts_even_where_they_lie_far_apart():
    assert arm_used(read("arm 100", "arm 140")) == "140 mmHg"


@pytest.mark.parametrize(
    ("right", "flags"),
    [(129.5, ()), (130, ("IAD_10",)), (135, ("IAD_15",)), (140, ("IAD_20",))],
)
def test_only_the_highest_flag_of_an_arm_difference_is_shown(right, flags):
    assert read(f"arm {right}", "arm 120").of("arm_difference").flags == flags


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (lambda: pressure(0), "pressure.zero"),
        (lambda: pressure(301), "pressure.out_of_range"),
        (lambda: pressure("120.25"), "pressure.not_whole_halves"),
        (lambda: pressure("nan"), "pressure.not_whole_halves"),
        (lambda: SiteReading(Outcome.PRESSURE), "pressure.missing"),
        (lambda: SiteReading(Outcome.NO_SIGNAL, 200), "pressure.unexpected"),
        (lambda: MeasuredLimb(Side.RIGHT, arm=(pressure(49),)), "pressure.out_of_range"),
        (lambda: MeasuredLimb(Side.RIGHT, ankle={Site.TOE_1: ()}), "site.wrong_place"),
        (lambda: MeasuredLimb(Side.RIGHT, toes={Site.ARM: ()}), "site.wrong_place"),
        (lambda: MeasuredLimb(Side.RIGHT, toe_skin_celsius=Decimal(51)), "condition.out_of_range"),
        (lambda: Context(diabetes="perhaps"), "context.unknown_answer"),
        (lambda: Context(reading_sd_mmhg={("knee", "doppler"): Decimal(4)}), "context.unknown_site_group"),
        (lambda: Context(reading_sd_mmhg={("toe", "doppler"): Decimal("inf")}), "condition.out_of_range"),
    ],
)
def test_what_cannot_be_is_refused_with_a_code(make, code):
    with pytest.raises(InputError) as refused:
        make()

    assert refused.value.code == code
