"""Where a limb's line runs and where it breaks."""

from datetime import UTC, datetime
from decimal import Decimal

from reports.timeline.series import Absence, Measure, NoValue, Point, join


def toe(year: int, mmhg: int, how: str = "hallux") -> Point:
    return Point(year, datetime(year, 5, 4, 10, tzinfo=UTC), Decimal(mmhg), f"{mmhg} mmHg", how=how)


def without_value(year: int, absence: Absence, because: str) -> NoValue:
    return NoValue(year, datetime(year, 5, 4, 10, tzinfo=UTC), absence, because)


def another_toe(earlier: Point, later: Point) -> tuple[str, ...]:
    """The rule of these tests: only the same toe may be compared."""
    return () if earlier.how == later.how else (f"{earlier.how} then, {later.how} now",)


def years_of(stretches: tuple[tuple[Point, ...], ...]) -> list[list[int]]:
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

    assert series.breaks[0].at == datetime(2022, 5, 4, 10, tzinfo=UTC)
    assert series.breaks[0].height == 60


def test_an_ankle_that_could_not_be_occluded_breaks_the_line_and_is_never_a_point():
    unoccluded = without_value(2022, Absence.NOT_OCCLUDABLE, "the ankle could not be occluded at 250 mmHg")

    series = join(Measure.ANKLE_PRESSURE, [toe(2021, 140), unoccluded, toe(2023, 138)], another_toe)

    assert years_of(series.stretches) == [[2021], [2023]]
    assert series.breaks[0].reasons == ("the ankle could not be occluded at 250 mmHg on 4 May 2022",)
    assert series.absences == (unoccluded,)


def test_an_ankle_that_could_not_be_occluded_for_years_is_told_once_with_its_dates():
    stiff = [
        without_value(year, Absence.NOT_OCCLUDABLE, "the ankle could not be occluded at 250 mmHg")
        for year in (2022, 2023, 2024)
    ]

    series = join(Measure.ANKLE_PRESSURE, [toe(2021, 140), *stiff, toe(2025, 138)], another_toe)

    assert series.breaks[0].reasons == (
        "the ankle could not be occluded at 250 mmHg in 3 exams, 4 May 2022 to 4 May 2024",
    )


def test_no_signal_between_two_values_breaks_the_line():
    series = join(
        Measure.TOE_PRESSURE,
        [toe(2021, 30), without_value(2022, Absence.NO_SIGNAL, "no signal at the hallux"), toe(2023, 44)],
        another_toe,
    )

    assert [gap.reasons for gap in series.breaks] == [("no signal at the hallux on 4 May 2022",)]


def test_a_measure_that_was_not_made_once_does_not_break_the_line_but_stays_listed():
    missed = without_value(2022, Absence.NOT_MADE, "not obtained: dressing not removed")

    series = join(Measure.TOE_PRESSURE, [toe(2021, 70), missed, toe(2023, 68)], another_toe)

    assert years_of(series.stretches) == [[2021, 2023]]
    assert series.absences == (missed,)


def test_every_reason_of_one_break_is_kept():
    series = join(
        Measure.TOE_PRESSURE,
        [
            toe(2021, 70),
            without_value(2022, Absence.NO_SIGNAL, "no signal at the hallux"),
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

    assert (series.stretches, series.breaks, series.absences) == ((), (), ())


def test_two_exams_on_one_day_are_both_kept_in_the_order_taken():
    morning = Point(1, datetime(2024, 5, 4, 9, tzinfo=UTC), Decimal(60), "60 mmHg")
    noon = Point(2, datetime(2024, 5, 4, 12, tzinfo=UTC), Decimal(64), "64 mmHg")

    series = join(Measure.TOE_PRESSURE, [noon, morning], another_toe)

    assert series.stretches == ((morning, noon),)
