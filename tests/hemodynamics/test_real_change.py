"""Has this limb really changed: lines, verdicts, slopes and what to expect today (clinical 7, workflow 6)."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import (
    Crossing,
    DatedExam,
    EventDate,
    EventKind,
    InputError,
    LimbEvent,
    NotStated,
    OwnNoise,
    RepeatPair,
    Side,
    Verdict,
    Visit,
    crossing_of,
    expected_today,
    line_of,
    load_criteria,
    noise_of_change,
    own_noise,
    pair_of,
    probability_below,
    real_change,
    sd_interval,
    slope_of,
)
from tests.hemodynamics.readings import read

TOE, ABI, ANKLE = "toe_pressure", "ankle_brachial_index", "ankle_pressure"
CRITERIA = load_criteria("acc-aha-2024")


def exams(*words, start=2020):
    """One exam a year, on 1 June, each given in the words of the RIGHT side."""
    return [DatedExam(date(start + i, 6, 1), read(right)) for i, right in enumerate(words)]


def toes(*mmhg, events=()):
    return line_of(exams(*(f"toe {one}" for one in mmhg)), Side.RIGHT, TOE, events)


def verdict(*mmhg, own=()):
    return real_change(toes(*mmhg), CRITERIA, own).verdict


def visits(*values, days=365):
    first = date(2020, 1, 1).toordinal()
    return [Visit(date.fromordinal(first + days * i), Fraction(v), str(v)) for i, v in enumerate(values)]


def own(sd, measure=TOE, technique="two_cuffs"):
    return OwnNoise(measure, technique, sd, 30, "agreement study 2025")


# The noise a change is held against


def test_thirty_pairs_recuffed_on_another_day_replace_the_published_noise():
    noise = noise_of_change(TOE, "two_cuffs", CRITERIA, [own(5)])

    assert (noise.limit, noise.is_own) == (Decimal("13.9"), True)
    assert "agreement study 2025, 30 pairs" in noise.source
    assert verdict(60, 60, 44, 44) is Verdict.WITHIN_NOISE
    assert verdict(60, 60, 44, 44, own=[own(5)]) is Verdict.LIKELY_FALL


def test_own_noise_counts_only_for_its_measure_and_technique():
    for_others = [own(5, technique="oscillometric"), own(0.05, measure="toe_brachial_index")]

    noise = noise_of_change(TOE, "two_cuffs", CRITERIA, for_others)

    assert (noise.limit, noise.is_own, noise.source) == (Decimal(26), False, "ROMANOS10")


def test_same_visit_repeats_and_a_cuff_left_on_never_count_as_pairs():
    other_day = RepeatPair(60, 64, date(2025, 1, 1), date(2025, 1, 8), recuffed=True)
    same_visit = RepeatPair(60, 61, date(2025, 1, 1), date(2025, 1, 1), recuffed=True)
    left_on = RepeatPair(60, 61, date(2025, 1, 1), date(2025, 1, 2), recuffed=False)

    short = own_noise(TOE, "two_cuffs", [other_day] * 29 + [same_visit] * 30 + [left_on] * 30, "study")
    enough = own_noise(TOE, "two_cuffs", [other_day] * 30 + [same_visit] * 30, "study")

    assert short == NotStated("29 of 30 pairs re-cuffed on another day")
    assert (enough.pairs, enough.sd_within) == (30, pytest.approx(8**0.5))


def test_the_noise_of_thirty_pairs_comes_with_its_interval():
    """The chi-squared table: 16.791 and 46.979 at 30 degrees of freedom."""
    low, high = sd_interval(1, 30)

    assert (low, high) == (
        pytest.approx((30 / 46.979) ** 0.5, abs=1e-4),
        pytest.approx((30 / 16.791) ** 0.5, abs=1e-4),
    )
    assert (
        "30 pairs, 95 % interval 11.1 to 18.5" in noise_of_change(TOE, "two_cuffs", CRITERIA, [own(5)]).source
    )


def test_two_exams_make_a_pair_only_where_they_may_be_compared():
    was, now = (
        DatedExam(date(2025, 1, day), exam) for day, exam in ((1, read("toe 60")), (8, read("toe 66")))
    )
    without_toe = DatedExam(date(2025, 1, 8), read("arm 140"))

    technique, pair = pair_of(was, now, Side.RIGHT, TOE, recuffed=True)

    assert (technique, pair.first, pair.tells_of_a_change) == ("two_cuffs", 60, True)
    assert isinstance(pair_of(was, without_toe, Side.RIGHT, TOE, recuffed=True), NotStated)


def test_too_few_pairs_are_refused():
    with pytest.raises(InputError) as refused:
        OwnNoise(TOE, "two_cuffs", 5, 29, "study")

    assert refused.value.code == "noise.too_few_pairs"


def test_an_ankle_pressure_has_noise_only_from_the_clinic_itself():
    assert isinstance(noise_of_change(ANKLE, "doppler", CRITERIA), NotStated)
    assert noise_of_change(ANKLE, "doppler", CRITERIA, [own(6, ANKLE, "doppler")]).is_own


# The line of values that may be compared


def test_an_exam_measured_another_way_is_left_out_and_the_line_goes_on():
    line = line_of(exams("toe 60", "toe not_done, toe2 40", "toe 58"), Side.RIGHT, TOE)

    assert [visit.value for visit in line.visits] == [60, 58]
    assert [(on.year, why[0][:22]) for on, why in line.skipped] == [(2021, "measured at the second")]


def test_a_stiff_ankle_in_between_ends_the_line():
    line = line_of(
        exams("arm 100, dp 80", "arm 100, dp 150", "arm 100, dp 90", "arm 100, dp 88"), Side.RIGHT, ABI
    )

    assert [visit.shown for visit in line.visits] == ["0.90", "0.88"]
    assert [on.year for on, _ in line.skipped] == [2020, 2021]


def test_a_revascularisation_starts_a_new_line():
    bypass = LimbEvent(EventKind.REVASCULARISATION, EventDate(date(2021, 9, 1)), Side.RIGHT)

    line = toes(30, 28, 60, 62, events=[bypass])

    assert [visit.value for visit in line.visits] == [60, 62]
    assert all("a new baseline" in why[0] for _, why in line.skipped)


def test_a_toe_lost_since_ends_its_line_and_the_verdict_says_why():
    lost = LimbEvent(EventKind.AMPUTATION, EventDate(date(2020, 9, 1)), Side.RIGHT, level="toe", toes=(1,))
    line = line_of(exams("toe 60", "toe2 30"), Side.RIGHT, TOE, [lost])

    found = real_change(line, CRITERIA)

    assert found.verdict is Verdict.CANNOT_BE_COMPARED
    assert found.sentence.startswith(
        "RIGHT toe pressure cannot be compared because of 1 Jun 2020: RIGHT hallux amputation, 1 Sep 2020 in "
        "between: the earlier site is gone"
    )


def test_without_any_value_there_is_no_line():
    assert line_of(exams("arm 140"), Side.RIGHT, TOE) == NotStated("no value yet")


# The verdict


@pytest.mark.parametrize(
    ("mmhg", "expected"),
    [
        ((60, 58), Verdict.WITHIN_NOISE),
        ((60, 30), Verdict.SEEN_ONCE),
        ((60, 58, 30), Verdict.SEEN_ONCE),
        ((60, 30, 32), Verdict.LIKELY_FALL),
        ((60, 34, 34), Verdict.LIKELY_FALL),
        ((60, 34.5, 34), Verdict.SEEN_ONCE),
        ((60, 34.5, 34.5), Verdict.WITHIN_NOISE),
        ((30, 60, 62), Verdict.LIKELY_RISE),
        ((60, 30, 60), Verdict.SEEN_ONCE),
        ((60, 30, 90), Verdict.SEEN_ONCE),
        ((80, 70, 61, 52, 50), Verdict.LIKELY_FALL),
        ((60,), Verdict.CANNOT_BE_COMPARED),
    ],
)
def test_a_trend_word_needs_two_visits_beyond_noise(mmhg, expected):
    """By hand, 26 mmHg and more counts; a slow fall is told against the first of its line."""
    assert verdict(*mmhg) is expected


def test_two_exams_of_one_day_do_not_confirm_each_other():
    first, *_ = exams("toe 60")
    low = [DatedExam(date(2021, 6, 1), read(f"toe {mmhg}")) for mmhg in (30, 32)]

    found = real_change(line_of([first, *low], Side.RIGHT, TOE), CRITERIA)

    assert found.verdict is Verdict.SEEN_ONCE
    assert found.difference == -29


def test_the_verdict_names_its_values_days_noise_and_source():
    found = real_change(toes(60, 30, 32), CRITERIA)

    assert (found.difference, found.interval.low, found.interval.high) == (-28, -54, -2)
    assert found.sentence == (
        "RIGHT toe pressure likely fall: 60 mmHg on 1 Jun 2020, 32 mmHg on 1 Jun 2022 "
        "(repeats differ by 26 mmHg, ROMANOS10)."
    )


@settings(max_examples=25)  # each example reads up to six whole exams
@given(st.lists(st.integers(1, 200), min_size=2, max_size=6))
def test_a_line_that_stays_within_noise_never_earns_a_trend_word(steps):
    """Whatever the values, where none lies 26 or more from another there is no word but "within noise"."""
    values = [60 + step % 26 for step in steps]

    assert verdict(*values) is Verdict.WITHIN_NOISE


# The slope and the day a limit would be crossed


def test_a_slope_needs_four_values_on_different_days_over_180_days():
    assert isinstance(slope_of(visits(60, 58, 56)), NotStated)
    assert isinstance(slope_of(visits(60, 58, 56, 54, days=59)), NotStated)
    assert slope_of(visits(60, 58, 56, 54, days=60)).per_year == pytest.approx(-2 * 365.25 / 60)


def test_four_values_never_give_a_95_percent_interval_so_no_day():
    slope = slope_of(visits(60, 55, 50, 45))

    assert (slope.level, slope.excludes_zero) == (92, False)
    assert isinstance(crossing_of(slope, 30, noise_of_change(TOE, "two_cuffs", CRITERIA)), NotStated)


def test_a_steady_fall_crosses_its_limit_on_a_day_with_an_interval():
    slope = slope_of(visits(80, 74, 71, 64, 60))

    found = crossing_of(slope, 50, noise_of_change(TOE, "two_cuffs", CRITERIA))

    assert slope.excludes_zero
    assert isinstance(found, Crossing)
    # 71 at the middle day (31 Dec 2021), -5 a year: 4.2 years later.
    assert found.on == date(2026, 3, 13)
    assert slope.end <= found.earliest < found.on < found.latest


@pytest.mark.parametrize(
    ("values", "limit", "why"),
    [
        ((60, 70, 58, 66, 62), 30, "the slope may be nothing but noise"),
        ((80, 74, 71, 64, 60), 90, "the line does not go towards this limit, or is past it already"),
        ((80, 74, 71, 64, 60), 75, "the line does not go towards this limit, or is past it already"),
        ((80, 74, 71, 64, 60), 20, "too far ahead: further than the values reach back"),
    ],
)
def test_no_day_is_named_where_the_record_does_not_earn_it(values, limit, why):
    found = crossing_of(slope_of(visits(*values)), limit, noise_of_change(TOE, "two_cuffs", CRITERIA))

    assert found == NotStated(why)


# What to expect today


def test_after_one_value_today_is_expected_within_the_smallest_change_that_counts():
    found = expected_today(toes(60), CRITERIA)

    assert (found.low, found.high, found.from_days) == (34, 86, (date(2020, 6, 1),))
    assert [found.stands(Decimal(v)) for v in (33, 34, 86, 87)] == ["below", "within", "within", "above"]


def test_more_values_that_agree_narrow_what_is_expected():
    """Three values: 26 times the root of (1 + 1/3) / 2 is 21.2 about their mean of 60."""
    found = expected_today(toes(58, 60, 62), CRITERIA)

    assert (found.low, found.high) == (38, 82)


def test_a_value_beyond_noise_of_a_newer_one_is_not_averaged_in():
    assert expected_today(toes(90, 60), CRITERIA).from_days == (date(2021, 6, 1),)


def test_a_low_pressure_is_never_expected_below_1_mmhg():
    assert expected_today(toes(20), CRITERIA).low == 1


def test_the_probability_of_lying_below_a_limit_is_half_at_the_limit():
    toe = read("toe 30").of(TOE, Side.RIGHT)
    index = read("arm 100, dp 91").of(ABI, Side.RIGHT)

    assert probability_below(toe, Decimal(30)) == 0.5
    assert probability_below(toe, Decimal(55)) > 0.999
    assert probability_below(index, Decimal("0.91")) == index.interval.beyond[2].probability
    assert probability_below(index, Decimal("1.20")) > 0.99
    assert isinstance(probability_below(read().of(TOE, Side.RIGHT), Decimal(30)), NotStated)


def test_equal_values_of_which_two_are_of_one_day_have_a_flat_slope():
    seen = visits(60, 60, 60, 60, 60)

    slope = slope_of([*seen, seen[-1]])

    assert (slope.per_year, slope.low, slope.high) == (0, 0, 0)
