"""Where a limb's line runs and where it breaks."""

from datetime import datetime
from decimal import Decimal

import pytest

from reports.timeline.series import Kind, Measure, Seen, join, last_comparable


def toe(year: int, mmhg: int, how: str = "hallux") -> Seen:
    return Seen(year, datetime(year, 5, 4, 10), Kind.VALUE, f"{mmhg} mmHg", Decimal(mmhg), how=how)


def without_value(year: int, kind: Kind, because: str) -> Seen:
    return Seen(year, datetime(year, 5, 4, 10), kind, "", because=because)


def another_toe(earlier: Seen, later: Seen) -> tuple[str, ...]:
    """The rule of these tests: only the same toe may be compared."""
    return () if earlier.how == later.how else (f"{earlier.how} then, {later.how} now",)


def years_of(stretches: tuple[tuple[Seen, ...], ...]) -> list[list[int]]:
    return [[one.at.year for one in run] for run in stretches]


def test_values_that_may_be_compared_are_one_stretch_oldest_first():
    series = join(Measure.TOE_PRESSURE, [toe(2024, 60), toe(2022, 71), toe(2023, 66)], another_toe)

    assert years_of(series.stretches) == [[2022, 2023, 2024]]
    assert series.breaks == ()


def test_another_toe_breaks_the_line_and_says_why():
    series = join(
        Measure.TOE_PRESSURE,
        [toe(2021, 71), toe(2022, 70), toe(2023, 58, "second toe"), toe(2024, 57, "second toe")],
        another_toe,
    )

    assert years_of(series.stretches) == [[2021, 2022], [2023, 2024]]
    assert [gap.reasons for gap in series.breaks] == [("hallux then, second toe now",)]


def test_a_break_stands_halfway_between_the_two_exams_in_time_and_in_height():
    series = join(Measure.TOE_PRESSURE, [toe(2021, 70), toe(2023, 50, "second toe")], another_toe)

    assert series.breaks[0].at == datetime(2022, 5, 4, 10)
    assert series.breaks[0].height == 60


def test_an_ankle_that_could_not_be_occluded_breaks_the_line_and_is_never_a_point():
    unoccluded = without_value(2022, Kind.NOT_OCCLUDABLE, "the ankle could not be occluded at 250 mmHg")

    series = join(Measure.ANKLE_PRESSURE, [toe(2021, 140), unoccluded, toe(2023, 138)], another_toe)

    assert years_of(series.stretches) == [[2021], [2023]]
    assert series.breaks[0].reasons == ("the ankle could not be occluded at 250 mmHg on 4 May 2022",)
    assert series.not_points == (unoccluded,)


def test_no_signal_between_two_values_breaks_the_line():
    series = join(
        Measure.TOE_PRESSURE,
        [toe(2021, 30), without_value(2022, Kind.NO_SIGNAL, "no signal at the hallux"), toe(2023, 44)],
        another_toe,
    )

    assert [gap.reasons for gap in series.breaks] == [("no signal at the hallux on 4 May 2022",)]


def test_a_measure_that_was_not_made_once_does_not_break_the_line_but_stays_listed():
    missed = without_value(2022, Kind.NOT_STATED, "not obtained: dressing not removed")

    series = join(Measure.TOE_PRESSURE, [toe(2021, 70), missed, toe(2023, 68)], another_toe)

    assert years_of(series.stretches) == [[2021, 2023]]
    assert series.not_points == (missed,)


def test_every_reason_of_one_break_is_kept():
    series = join(
        Measure.TOE_PRESSURE,
        [
            toe(2021, 70),
            without_value(2022, Kind.NO_SIGNAL, "no signal at the hallux"),
            toe(2023, 68, "second toe"),
        ],
        another_toe,
    )

    assert series.breaks[0].reasons == (
        "hallux then, second toe now",
        "no signal at the hallux on 4 May 2022",
    )


def test_a_foot_never_measured_has_no_stretch_and_no_break():
    series = join(Measure.TOE_PRESSURE, [], another_toe)

    assert (series.stretches, series.breaks, series.not_points) == ((), (), ())


def test_two_exams_on_one_day_are_both_kept_in_the_order_taken():
    morning = Seen(1, datetime(2024, 5, 4, 9), Kind.VALUE, "60 mmHg", Decimal(60))
    noon = Seen(2, datetime(2024, 5, 4, 12), Kind.VALUE, "64 mmHg", Decimal(64))

    series = join(Measure.TOE_PRESSURE, [noon, morning], another_toe)

    assert series.stretches == ((morning, noon),)


def test_the_last_comparable_exam_may_lie_behind_one_that_is_not():
    series = join(
        Measure.TOE_PRESSURE,
        [toe(2021, 70), toe(2022, 58, "second toe"), toe(2023, 62)],
        another_toe,
    )

    assert last_comparable(series, another_toe) == (series.seen[0], series.seen[2])


def test_a_first_value_has_nothing_to_be_compared_with():
    series = join(Measure.TOE_PRESSURE, [toe(2023, 62)], another_toe)

    assert last_comparable(series, another_toe) is None


def test_a_value_cannot_be_given_together_with_the_word_that_there_is_none():
    with pytest.raises(ValueError, match="a value belongs to kind value"):
        Seen(1, datetime(2024, 5, 4), Kind.NO_SIGNAL, "", value=Decimal(12), because="no signal")


def test_an_exam_without_a_value_must_say_why():
    with pytest.raises(ValueError, match="without the reason"):
        Seen(1, datetime(2024, 5, 4), Kind.NOT_STATED, "")
