"""What is typed at the bedside, read or refused in plain words."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import example, given
from hypothesis import strategies as st

from exams.visits.models import NotObtained, Outcome, PreparationItem, Site
from exams.visits.typed import read_cuff_mm, read_preparation, read_reading, written


def words_for(typed, site="arm"):
    with pytest.raises(ValidationError) as refused:
        read_reading(typed, site)
    return refused.value.messages[0]


def condition_words(typed, item):
    with pytest.raises(ValidationError) as refused:
        read_preparation(typed, item)
    return refused.value.messages[0]


def read_or_words(read, typed, what):
    try:
        return read(typed, what), None
    except ValidationError as refused:
        return None, refused.messages[0]


def test_a_pressure_is_whole_or_half_mmhg():
    assert read_reading("132.5", "arm").pressure_mmhg == Decimal("132.5")


def test_an_emptied_field_says_nothing():
    assert read_reading("  ", "toe_1") is None


def test_a_star_is_an_artery_that_cannot_be_occluded_at_that_cuff_pressure():
    value = read_reading("*250", "posterior_tibial")

    assert (value.outcome, value.pressure_mmhg) == (Outcome.NOT_OCCLUDABLE, 250)


def test_a_star_alone_is_asked_for_the_cuff_pressure():
    assert "at which cuff pressure" in words_for("*", "posterior_tibial")


def test_a_stroke_is_no_signal():
    assert read_reading("/", "toe_1").outcome == Outcome.NO_SIGNAL


def test_a_minus_and_a_number_is_the_reason_of_the_printed_list():
    assert read_reading("-2", "toe_1").reason == NotObtained.TOE_TOO_SHORT


def test_a_reason_of_toes_is_none_at_an_arm():
    assert words_for("-2", "arm").startswith("“toe too short” is a reason at a toe only. Choose another")


def test_other_needs_words():
    assert "Say what it was" in words_for("-22", "toe_1")
    assert read_reading("-22 fire alarm", "toe_1").reason_text == "fire alarm"


def test_a_digit_too_many_is_asked_back():
    assert words_for("1200") == (
        "Arm pressure 1200 is not possible. Did you mean 120? Your other readings are kept."
    )


def test_a_doubled_digit_is_asked_back():
    assert "Did you mean 132?" in words_for("1322")


def test_swapped_digits_are_asked_back():
    assert "Did you mean 140?" in words_for("410")


def test_a_lost_point_is_asked_back():
    assert "Did you mean 132.5?" in words_for("1325")


def test_a_decimal_comma_is_read_and_said():
    value = read_reading("132,5", "arm")

    assert (value.pressure_mmhg, value.note) == (
        Decimal("132.5"),
        "The comma was read as a decimal point: 132.5.",
    )


def test_kilopascals_are_suspected():
    assert "In kPa it would be about 130 mmHg" in words_for("17.3")
    assert "In kPa it would be about 50 mmHg" in words_for("6.7", "toe_1")
    assert "16 kPa is about 120 mmHg: type the pressure in mmHg" in words_for("16 kPa", "toe_1")


def test_a_unit_written_after_the_number_is_understood():
    assert read_reading("138 mmHg", "arm").pressure_mmhg == 138
    assert read_preparation("31 °C", "right_toe_celsius") == "31"


def test_of_two_pressures_the_upper_one_is_asked_for():
    assert "Type the upper one alone: 138" in words_for("138/80")


def test_what_is_no_number_is_answered_with_what_to_type():
    assert "Type figures only, or leave it empty." in condition_words("none", "tobacco_hours")


def test_a_toe_of_five_and_a_half_is_a_real_pressure():
    assert read_reading("5.5", "toe_1").pressure_mmhg == Decimal("5.5")


def test_zero_is_not_a_pressure():
    assert "Type / for no signal" in words_for("0", "toe_1")


@pytest.mark.parametrize(
    ("typed", "site"), [("50", "arm"), ("300", "arm"), ("1", "toe_1"), ("300", "dorsalis_pedis")]
)
def test_the_limits_themselves_are_possible(typed, site):
    assert read_reading(typed, site).pressure_mmhg == Decimal(typed)


@pytest.mark.parametrize(
    ("typed", "site"), [("49.5", "arm"), ("300.5", "arm"), ("0.5", "toe_1"), ("301", "dorsalis_pedis")]
)
def test_beyond_the_limits_is_refused(typed, site):
    assert "not possible" in words_for(typed, site)


def test_a_cuff_is_whole_millimetres():
    assert read_cuff_mm("25") == 25
    with pytest.raises(ValidationError, match="whole mm, 5 to 250"):
        read_cuff_mm("2,5")


def test_a_skin_temperature_in_fahrenheit_is_suspected():
    assert "about 30 °C" in condition_words("86", "right_toe_celsius")


def test_a_temperature_is_kept_as_typed_with_one_decimal():
    assert read_preparation("27,5", "right_toe_celsius") == "27.5"


def test_a_position_can_be_given_by_its_number():
    assert read_preparation("1", "position") == "supine"


@given(st.text(max_size=20), st.sampled_from(list(Site)))
@example("١٢٣", Site.ARM)
@example("1e3", Site.ARM)
@example("NaN", Site.ARM)
@example("-1 \x00", Site.TOE_1)
def test_whatever_is_typed_is_either_a_possible_reading_or_refused_in_words(typed, site):
    value, words = read_or_words(read_reading, typed, site)

    lowest = 50 if site == Site.ARM else 1
    assert words is None or "kept" in words
    assert value is None or value.pressure_mmhg is None or lowest <= value.pressure_mmhg <= 300


@given(st.integers(2, 600), st.sampled_from(["", "*"]))
def test_what_is_stored_can_be_typed_again_and_means_the_same(half_mmhg, star):
    typed = f"{star}{Decimal(half_mmhg) / 2}"

    value = read_reading(typed, "toe_1")

    again = written(value.outcome, value.pressure_mmhg, value.reason, value.reason_text)
    assert read_reading(again, "toe_1") == value


@given(st.sampled_from(list(NotObtained)))
def test_every_reason_can_be_typed_again(reason):
    typed = written(Outcome.NOT_OBTAINED, None, reason, "words")

    site = "arm" if reason == NotObtained.ARM_PROTECTED else "toe_1"
    assert read_reading(typed, site).reason == reason


@given(st.text(max_size=320), st.sampled_from(list(PreparationItem)))
@example("1" * 30, PreparationItem.FIRST_ARM)
@example("-0", PreparationItem.HEART_TO_FOOT_CM)
def test_whatever_is_typed_as_a_condition_is_kept_or_refused_in_words(typed, item):
    kept, words = read_or_words(read_preparation, typed, item)

    assert words is None or "kept" in words
    assert kept is None or read_preparation(kept, item) == kept
