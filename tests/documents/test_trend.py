"""The printed trend: points, breaks and limits stand where they belong."""

import hashlib
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

from reports.documents import trend_svg
from reports.documents.content import (
    TrendEvent,
    TrendLimit,
    TrendNoise,
    TrendPanel,
    TrendPoint,
    TrendSeries,
    freeze,
    thaw,
)
from reports.documents.over_years import trend
from reports.documents.render import page
from reports.timeline.years import Event
from tests.documents import contents
from tests.timeline.made_up import both_feet


def point(year: int, value: str | None, broken: str = "", words: str = "") -> TrendPoint:
    number = None if value is None else Decimal(value)
    return TrendPoint(date(year, 3, 3), number, words=words or f"{value} mmHg", broken=broken)


def panel(*points: TrendPoint, limits: tuple[TrendLimit, ...] = ()) -> TrendPanel:
    return TrendPanel("LEFT", "Pressures", "mmHg", (TrendSeries("toe pressure", points),), limits)


def test_one_exam_is_no_trend():
    assert trend_svg.draw([panel(point(2025, "60"))]) == ()


def test_time_runs_to_the_right_and_pressure_upwards():
    (drawn,) = trend_svg.draw([panel(point(2020, "40"), point(2024, "90"))])
    earlier, later = drawn.series[0].marks

    assert earlier.x < later.x
    assert earlier.y > later.y


def test_a_line_joins_what_may_be_compared_and_stops_at_a_break():
    (drawn,) = trend_svg.draw(
        [
            panel(
                point(2020, "90"),
                point(2021, "88"),
                point(2022, "40", broken="another toe"),
                point(2023, "42"),
            )
        ]
    )

    assert len(drawn.series[0].paths) == 2
    assert [gap.number for gap in drawn.breaks] == [1]
    assert drawn.series[0].marks[1].x < drawn.breaks[0].x < drawn.series[0].marks[2].x


def test_one_reason_that_breaks_pressure_and_index_is_said_once():
    pressures = panel(point(2020, "90"), point(2022, "40", broken="another toe"))
    indices = replace(
        pressures,
        title="Indices",
        unit="index",
        series=(
            TrendSeries("toe-brachial index", (point(2020, "0.8"), point(2022, "0.4", broken="another toe"))),
        ),
    )

    assert trend_svg.breaks([pressures, indices]) == (("LEFT", ("Mar 2020 to Mar 2022: another toe",)),)
    assert [gap.number for one in trend_svg.draw([pressures, indices]) for gap in one.breaks] == [1, 1]


def test_an_exam_without_a_number_is_a_cross_at_the_foot_and_keeps_its_words():
    shown = panel(point(2020, None, words="cannot be occluded at 250 mmHg"), point(2022, "40"))
    (drawn,) = trend_svg.draw([shown])
    (table,) = trend_svg.tables([shown])

    assert (drawn.series[0].marks[0].shape, drawn.series[0].marks[0].y) == ("cross", drawn.base)
    assert table.rows[1].cells == ("cannot be occluded at 250 mmHg",)


def test_ankle_and_toe_look_as_they_do_on_the_screen():
    ankle, toe = (
        TrendSeries(name, (point(2020, "90"), point(2022, "80")))
        for name in ("ankle pressure", "toe pressure")
    )
    (drawn,) = trend_svg.draw([TrendPanel("LEFT", "Pressures", "mmHg", (ankle, toe), ())])

    assert [(one.shape, one.dashes) for one in drawn.series] == [("circle", ""), ("square", "4 3")]


def test_a_limit_stands_at_its_value_with_its_name_and_none_is_drawn_beyond_the_scale():
    (drawn,) = trend_svg.draw(
        [
            panel(
                point(2020, "30"),
                point(2022, "40"),
                limits=(
                    TrendLimit(Decimal(30), "toe below 30: urgent"),
                    TrendLimit(Decimal(900), "far away"),
                ),
            )
        ]
    )

    assert [limit.y for limit in drawn.limits] == [drawn.series[0].marks[0].y]
    assert " ".join(line.words for line in drawn.limits[0].words) == "toe below 30: urgent"


def test_names_of_near_limits_do_not_run_into_one_another():
    near = tuple(
        TrendLimit(Decimal(value), f"limit of {value} mmHg, named at length") for value in (50, 51, 52)
    )
    (drawn,) = trend_svg.draw([panel(point(2020, "30"), point(2022, "40"), limits=near)])
    heights = [line.y for limit in drawn.limits for line in limit.words]

    assert heights == sorted(heights)
    assert min(lower - upper for upper, lower in pairwise(heights)) >= 9


def test_the_table_shows_the_newest_and_says_how_many_it_leaves_out():
    (table,) = trend_svg.tables([panel(*(point(year, "60") for year in range(2010, 2026)))])

    assert [row.on.year for row in table.rows] == list(range(2025, 2019, -1))
    assert table.left_out == 10


WOUND = TrendEvent("wound", date(2021, 1, 1), date(2022, 1, 1), True, False, False, "open wound, not ended")
TREATED = TrendEvent(
    "treated", date(2019, 1, 1), date(2019, 12, 31), False, True, True, "revascularisation, 2019"
)


def test_what_happened_to_the_limb_stands_in_a_lane_of_its_kind_and_in_words():
    shown = replace(panel(point(2020, "90"), point(2022, "40")), events=(WOUND, TREATED))
    (drawn,) = trend_svg.draw([shown])

    assert [lane.name.words for lane in drawn.lanes] == ["wound", "treated"]
    assert [len(lane.flags) for lane in drawn.lanes] == [2, 2]
    assert drawn.height == 178 + 2 * 11
    # Before the first exam, and so at the left edge.
    assert drawn.baselines == (drawn.left + 10,)
    assert trend_svg.flags([shown]) == (("LEFT", ("open wound, not ended", "revascularisation, 2019")),)
    assert "revascularisation, 2019" in drawn.description


def test_panels_side_by_side_have_the_same_lanes():
    flagged = replace(panel(point(2020, "90"), point(2022, "40")), events=(WOUND,))
    right, left = trend_svg.draw([replace(flagged, limb="RIGHT", events=()), flagged])

    assert (right.height, len(right.lanes)) == (left.height, len(left.lanes))
    assert right.lanes[0].flags == ()


def test_the_noise_band_reaches_from_one_exam_to_the_other():
    noise = TrendNoise(date(2020, 3, 3), date(2022, 3, 3), Decimal(60), Decimal(120))
    (drawn,) = trend_svg.draw([replace(panel(point(2020, "60"), point(2022, "120")), noises=(noise,))])
    earlier, later = drawn.series[0].marks

    assert drawn.noises == (f"M{earlier.x} {earlier.y}V{later.y}H{later.x}V{earlier.y}Z",)


def test_a_report_tells_only_what_had_happened_by_its_exam():
    ended_later = Event("open_wound", "open wound", date(2024, 1, 8), date(2026, 12, 24), "heel")
    to_come = Event("amputation", "hallux amputation", date(2026, 12, 2), None, once=True)
    right, left = both_feet().limbs
    years = replace(both_feet(), limbs=(replace(right, events=(ended_later, to_come)), left))

    pressures, *_ = trend(years)

    assert [(one.words, one.lasts) for one in pressures.events] == [
        ("open wound from 8 Jan 2024, not ended: heel", True)
    ]
    assert [(one.low, one.high) for one in pressures.noises] == [(Decimal(112), Decimal(164))]


def test_a_report_frozen_before_there_were_flags_is_printed_as_it_was():
    frozen = freeze(contents.usual())
    for one in frozen["trend"]:
        del one["events"], one["noises"]

    old = page(thaw(frozen), contents.MADE_AT)

    # What the version before flags and noise made of this content.
    years = old[old.index("<h2>Over the years") : old.index('<section class="end"')]
    assert hashlib.sha256(years.encode()).hexdigest() == (
        "c937ef7f1532cef9a558f742ba1a74f4924e5e2d39cf58fd4a807c4057b06511"
    )
