"""The table twin: the same exams, values, breaks and reasons as the figures."""

import csv
from dataclasses import replace
from datetime import UTC, date
from io import StringIO

from exams.hemodynamics import Side
from exams.traces.queries.pictures import TraceLink
from reports.timeline.figure import NAMES, drawn
from reports.timeline.lean import with_recordings, year_rows
from reports.timeline.record import years_of
from reports.timeline.series import Absence, Measure
from reports.timeline.table import as_csv, rows_of
from reports.timeline.words import limbs_of
from reports.timeline.years import InError
from tests.timeline.made_up import DRESSED, TOE, UNOCCLUDED, absent, both_feet, limb
from tests.timeline.records import CRITERIA, foot, record


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text)))


def test_there_is_a_row_for_every_exam_of_a_limb_newest_first():
    right, left = both_feet().limbs

    assert [row.on.year for row in rows_of(right)] == [2026, 2024, 2022, 2021]
    assert [row.on.year for row in rows_of(left)] == [2026]


def test_a_cell_tells_the_break_before_it_by_the_number_it_has_in_the_figure():
    newest = rows_of(both_feet().limbs[0])[0]

    toe = {cell.name: cell for cell in newest.cells}["toe pressure"]
    assert (toe.gap_number, toe.gap.reasons) == (2, ("hallux then, second toe now",))


def test_a_pressure_leads_to_the_recordings_it_was_read_from_and_an_index_to_none():
    exam = record(7, date(2026, 11, 20), foot(Side.RIGHT, ankle=None))
    years = years_of([exam], {}, CRITERIA, UTC, exam.on)
    hallux = TraceLink(3, "RIGHT hallux", drawn=True)

    page = with_recordings(year_rows(rows_of(years.limbs[0]), 4), {1: hallux})
    without = with_recordings(year_rows(rows_of(years.limbs[0]), 4), {})

    cells = page.split("<td")[1:]
    assert ["Trace of RIGHT hallux" in cell for cell in cells] == [False, True, False, False]
    assert "<!--" not in page + without
    assert "Trace" not in without


def test_what_somebody_typed_is_not_taken_for_the_place_of_a_recording():
    exam = record(7, date(2026, 11, 20), foot(Side.RIGHT, ankle=None))
    stranger = InError(9, exam.at, "<!--behind 1 on 20 Nov 2026-->")
    years = years_of([exam], {}, CRITERIA, UTC, exam.on)

    page = with_recordings(
        year_rows(rows_of(years.limbs[0], (stranger,)), 4), {1: TraceLink(3, "x", drawn=True)}
    )

    assert page.count("Trace of") == 1
    assert "&lt;!--behind 1" in page


def test_figure_and_table_hold_the_same_values():
    years = both_feet()
    in_figures = [
        point["value"]
        for figure in drawn(years)["figures"]
        for panel in figure["panels"]
        for series in panel["series"]
        for run in series["stretches"]
        for point in run
    ]

    in_table = [
        float(row[NAMES[measure]])
        for row in read(as_csv(years))
        for measure in Measure
        if row[NAMES[measure]]
    ]

    assert sorted(in_table) == sorted(in_figures)


def test_the_csv_has_the_rows_of_the_page_right_first():
    rows = read(as_csv(both_feet()))

    assert [(row["limb"], row["date"]) for row in rows] == [
        ("RIGHT", "2026-11-20"),
        ("RIGHT", "2024-03-12"),
        ("RIGHT", "2022-06-01"),
        ("RIGHT", "2021-05-04"),
        ("LEFT", "2026-11-20"),
    ]


def test_the_csv_says_why_a_value_is_missing_and_never_writes_a_zero():
    exam_of_2022 = read(as_csv(both_feet()))[2]

    assert exam_of_2022["ankle pressure"] == ""
    assert exam_of_2022["ankle pressure, break before, or why no value"] == UNOCCLUDED
    assert exam_of_2022["toe pressure, break before, or why no value"] == DRESSED


def test_a_reason_that_begins_like_a_formula_is_made_harmless_in_the_csv():
    right = limb("RIGHT", *[(measure, [absent(1, Absence.NOT_MADE, "=1+1")]) for measure in Measure])

    row = read(as_csv(replace(both_feet(), limbs=(right, limb("LEFT")))))[0]

    assert row[f"{NAMES[TOE]}, break before, or why no value"] == "'=1+1"


def test_every_measure_has_one_sentence_on_what_changed():
    right, left = limbs_of(both_feet())

    assert [line.words for line in right.changes] == [
        "Ankle pressure. Within noise of 12 Mar 2024.",
        "Toe pressure. Cannot be compared with 12 Mar 2024 because: hallux then, second toe now.",
        "Ankle-brachial index: 1.05 on 4 May 2021, nothing earlier to compare with.",
        "Toe-brachial index: 0.62 on 4 May 2021, nothing earlier to compare with.",
    ]
    assert left.changes[1].words == "Toe pressure: no value yet."


def test_events_are_told_in_words_with_their_dates():
    right, _ = limbs_of(both_feet())

    assert right.events == (
        "RIGHT: open wound from 8 Jan 2024 to 2 Sep 2024: heel",
        "RIGHT: hallux amputation, 3 Feb 2025",
    )
