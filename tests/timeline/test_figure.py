"""What the page's script is told to draw."""

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

from reports.timeline.figure import drawn
from reports.timeline.series import Absence
from reports.timeline.years import Event
from tests.timeline.made_up import ANKLE, EXAMS, TOE, absent, both_feet, limb, point


def panel(data: dict, figure: str, limb_key: str) -> dict:
    figures = {one["key"]: one for one in data["figures"]}
    panels = {one["limb"]: one for one in figures[figure]["panels"]}
    return panels[limb_key]


def series(data: dict, figure: str, limb_key: str, measure: str) -> dict:
    return {one["measure"]: one for one in panel(data, figure, limb_key)["series"]}[measure]


def test_the_figures_are_pressures_and_indices_each_with_right_before_left():
    data = drawn(both_feet())

    assert [(one["key"], [panel["word"] for panel in one["panels"]]) for one in data["figures"]] == [
        ("pressures", ["RIGHT", "LEFT"]),
        ("indices", ["RIGHT", "LEFT"]),
    ]


def test_everything_drawn_can_be_written_as_json():
    assert json.loads(json.dumps(drawn(both_feet())))["today"] == "2026-11-25"


def test_a_value_carries_its_interval_as_distances_up_and_down():
    first = series(drawn(both_feet()), "pressures", "right", TOE)["stretches"][0][0]

    assert (first["value"], first["up"], first["down"]) == (84.0, 8.0, 8.0)


def test_an_ankle_that_could_not_be_occluded_stands_open_topped_at_the_cuff_pressure_and_in_no_line():
    ankle = series(drawn(both_feet()), "pressures", "right", ANKLE)

    assert [one["value"] for one in ankle["open_topped"]] == [250.0]
    assert [[one["value"] for one in run] for run in ankle["stretches"]] == [[142.0], [138.0, 131.0]]


def test_an_index_that_could_not_be_made_has_an_open_top_without_a_height():
    ankle = series(drawn(both_feet()), "indices", "right", "ankle_brachial_index")

    assert [one["value"] for one in ankle["open_topped"]] == [None]


def test_no_signal_is_a_mark_of_its_own_and_never_a_value_of_zero():
    toe = series(drawn(both_feet()), "pressures", "left", TOE)

    assert len(toe["no_signal"]) == 1
    assert toe["stretches"] == []


def test_breaks_are_numbered_through_the_limb_and_say_why():
    data = drawn(both_feet())

    ankle = series(data, "pressures", "right", ANKLE)["breaks"]
    toe = series(data, "pressures", "right", TOE)["breaks"]
    assert [(one["number"], one["words"]) for one in ankle + toe] == [
        (1, "Break 1, ankle pressure<br>the ankle could not be occluded at 250 mmHg on 1 Jun 2022"),
        (2, "Break 2, toe pressure<br>hallux then, second toe now"),
    ]


def test_an_exam_without_one_of_the_measures_is_crossed_and_says_why():
    exams = panel(drawn(both_feet()), "pressures", "right")["exams"]

    assert [one["whole"] for one in exams] == [True, False, True, True]
    assert "not obtained: dressing not removed" in exams[1]["words"]


def test_both_limbs_of_a_figure_share_one_scale_with_room_above_the_open_top():
    pressures = drawn(both_feet())["figures"][0]

    assert pressures["top"] > 250


def test_the_time_scale_reaches_from_the_first_exam_to_today():
    first, last = drawn(both_feet())["across"]

    assert first <= EXAMS[0].isoformat()
    assert last >= "2026-11-25"


def test_a_wound_older_than_the_first_exam_lies_inside_the_time_scale():
    years = both_feet()
    right = replace(years.limbs[0], events=(Event("open_wound", "open wound", date(2019, 2, 1), None),))

    first, _ = drawn(replace(years, limbs=(right, years.limbs[1])))["across"]

    assert first <= "2019-02-01"


def test_a_fact_that_has_ended_ends_on_its_day_and_one_that_lasts_reaches_today():
    wound = Event("open_wound", "open wound", date(2024, 1, 8), date(2024, 9, 2))
    lasts = Event("oedema", "swelling", date(2025, 1, 8), None)
    right, left = both_feet().limbs
    years = replace(both_feet(), limbs=(replace(right, events=(wound, lasts)), left))

    events = panel(drawn(years), "pressures", "right")["events"]

    assert [(one["to"], one["ended"]) for one in events] == [("2024-09-02", True), ("2026-11-25", False)]


def test_what_was_done_once_has_one_day_and_a_treated_vessel_draws_a_line_through_the_plot():
    toe = Event("amputation", "hallux amputation", date(2025, 2, 3), None, once=True)
    treated = Event(
        "revascularisation",
        "revascularisation",
        date(2019, 1, 1),
        date(2019, 12, 31),
        once=True,
        dated="2019",
    )
    right, left = both_feet().limbs
    years = replace(both_feet(), limbs=(replace(right, events=(toe, treated)), left))

    events = panel(drawn(years), "pressures", "right")["events"]

    assert [(one["from"], one["to"], one["baseline"]) for one in events] == [
        ("2025-02-03", "2025-02-03", False),
        ("2019-01-01", "2019-12-31", True),
    ]


def test_only_the_kinds_of_facts_that_were_recorded_get_a_lane():
    assert [lane["kind"] for lane in drawn(both_feet())["lanes"]] == ["open_wound", "amputation"]


def test_the_noise_band_stands_between_the_two_exams_compared():
    noises = panel(drawn(both_feet()), "pressures", "right")["noises"]

    assert noises == [
        {"measure": "ankle_pressure", "from": "2024-03-12", "to": "2026-11-20", "low": 112.0, "high": 164.0}
    ]


def test_limits_are_named_lines_of_the_figure_they_belong_to():
    pressures, indices = drawn(both_feet())["figures"]

    assert [one["words"] for one in pressures["limits"]] == ["toe below 30: urgent"]
    assert [one["words"] for one in indices["limits"]] == ["ankle 0.90 or below: reduced"]


def test_what_a_person_typed_reaches_the_chart_library_as_text_and_not_as_markup():
    right = limb(
        "RIGHT",
        (TOE, [absent(1, Absence.NOT_MADE, 'not obtained: <a href="https://elsewhere.example">x</a>')]),
        events=(Event("open_wound", "open wound", date(2024, 1, 8), None, "<b>heel</b>"),),
    )
    data = drawn(replace(both_feet(), limbs=(right, limb("LEFT"))))

    text = json.dumps(data)
    assert "<a " not in text
    assert "<b>" not in text
    assert "&lt;b&gt;heel" in text


def test_a_scale_grows_with_the_highest_whisker():
    right = limb("RIGHT", (TOE, [point(1, "280", "30")]))

    assert drawn(replace(both_feet(), limbs=(right, limb("LEFT"))))["figures"][0]["top"] >= Decimal(310)
