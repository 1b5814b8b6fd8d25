"""What the desk says of a recording, and what it keeps from a blind reader."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from access import clock
from access.permissions import NotHere
from exams.hemodynamics import Confidence, FlagCode, Mark, TraceFlag, TraceKind
from exams.traces.desk import apart_words, guidance_words, lead_words, likely_reason, questions_of, whole
from exams.traces.figure import View
from exams.traces.queries.desk import desk_for, trace_of_reading, window_of
from exams.traces.queries.exam import traces_of
from exams.traces.queries.waiting import for_a_second_reader, next_waiting, waiting_traces
from exams.traces.services.seeing import keep_seen
from tests.build import enter, exam_with, ready_exam
from tests.patients.make import caution
from tests.traces.made import read, read_recording, unsure_recording
from tests.traces.test_marks import mark, moved, refused


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


def points(desk, number: int) -> list[tuple[str, str]]:
    return [(one.weighs, one.words) for one in desk.questions[number - 1].points]


def test_it_opens_with_a_sentence_a_nurse_can_act_on():
    assert lead_words("RIGHT hallux", read()) == (
        "Suggested: RIGHT hallux 90 mmHg (86 to 95), confidence high.",
        "",
    )


def test_the_number_of_an_attempt_does_not_run_into_the_pressure():
    lead, _ = lead_words("RIGHT hallux, attempt 3", read())

    assert lead.startswith("Suggested: RIGHT hallux, attempt 3: ")


def test_an_unsure_suggestion_says_that_a_person_must_put_the_mark():
    lead, act = lead_words("RIGHT hallux", replace(read(), confidence=Confidence.LOW))

    assert lead.startswith("Unsure: RIGHT hallux 9")
    assert act == "Put the mark yourself, or repeat the recording."


def test_a_recording_not_to_be_reported_says_why_and_what_to_do():
    lead, act = lead_words("RIGHT hallux", read("artefact_at_start"))

    assert lead.startswith("Do not report this recording: the sensor moved")
    assert act == "Repeat it."


def test_a_leak_explains_that_no_return_is_seen_not_the_other_way_round():
    leaking = read("leaking_occlusion")

    assert {FlagCode.OCCLUSION_DOUBTFUL, FlagCode.NO_RETURN} <= {flag.code for flag in leaking.flags}
    assert lead_words("RIGHT hallux", leaking)[0].startswith("Do not report this recording: pulses persist")
    assert likely_reason(leaking) == "leak"


def test_the_trades_questions_come_in_their_order_with_what_speaks_for_and_against():
    questions = questions_of(read("uneven_deflation"), [])

    assert [one.number for one in questions] == [1, 2, 3, 4, 5, 6, 7]
    assert {point.weighs for point in questions[3].points} == {"against"}
    assert questions[1].points[0].weighs == "for"


def test_other_places_for_the_mark_are_told_with_how_likely_they_are():
    other = Mark(30.0, 71.2, 66.0, 75.0, 0.3)

    told = questions_of(replace(read(), alternatives=(other,)), [])[4].points

    assert told[1].words == "It could also be at 71 mmHg (66 to 75): about 30% likely."


def test_guidance_follows_how_the_pulp_was_emptied_and_what_comes_back():
    two, one = (guidance_words(how, TraceKind.REFILL) for how in ("two_cuffs", "one_cuff_hand"))

    assert "emptying cuff" in two
    assert "by hand" in one
    assert "Pulses come back" in guidance_words("doppler", TraceKind.PULSATION)


def test_a_pressure_is_rounded_by_way_of_its_tenths_half_upwards():
    assert [str(whole(one)) for one in (62.5, 62.44, 62.46, 61.4)] == ["63", "62", "63", "61"]


def test_how_far_apart_two_marks_are_is_told_in_mmhg_and_beats():
    assert apart_words(60, 66, 4.0, "the suggestion") == "6 mmHg (1.5 beats) below the suggestion"
    assert apart_words(66, 66, 4.0, "the suggestion") == "at the suggestion"
    assert apart_words(66.5, 60, None, "it") == "6.5 mmHg above it"


def test_the_figure_stands_around_a_sure_suggestion_and_shows_everything_otherwise(measurer, exam):
    sure = desk_for(measurer, read_recording(measurer, exam).pk)
    unsure = desk_for(measurer, unsure_recording(measurer, exam).pk)

    assert (sure.figure.view, sure.figure.whole) == (View(120, 55), View(120, 50))
    assert (sure.choices[0].key, sure.choices[0].checked) == ("suggested", True)
    assert unsure.figure.view == unsure.figure.whole
    assert unsure.choices == ()
    assert unsure.figure.placed[0].kind == "unsure"


def test_every_beat_of_the_deflation_is_a_dot_on_the_curve_and_a_row_of_the_table(measurer, exam):
    desk = desk_for(measurer, read_recording(measurer, exam).pk, all_of_it=True)

    assert len(desk.figure.dots) == len(desk.beats) >= 6
    assert all(0 <= dot.percent <= 100 and 0 <= dot.y <= 300 for dot in desk.figure.dots)


def test_the_axis_has_a_line_every_ten_mmhg_falling_to_the_right(measurer, exam):
    ticks = desk_for(measurer, read_recording(measurer, exam).pk, all_of_it=True).figure.ticks

    assert [tick.mmhg for tick in ticks] == [120, 110, 100, 90, 80, 70, 60, 50]
    assert [tick.percent for tick in ticks] == sorted(tick.percent for tick in ticks)


def test_a_flag_stands_at_its_place_by_name(measurer, exam):
    desk = desk_for(measurer, read_recording(measurer, exam, family="artefact_at_start").pk)

    assert [one.words for one in desk.figure.placed if one.kind == "flag"] == ["movement"]


def test_a_flag_of_no_place_is_told_under_the_figure(measurer, exam):
    hum = TraceFlag(FlagCode.MAINS_PICKUP, False, "A steady hum.")

    assert desk_for(measurer, read_recording(measurer, exam, flags=(hum,)).pk).elsewhere == ("mains hum",)


def test_repeats_lie_over_one_another_and_are_compared(measurer, exam):
    first = read_recording(measurer, exam)
    second = read_recording(measurer, exam, attempt=2, seed=5)
    moved(second, measurer, 74)

    desk = desk_for(measurer, first.pk)

    assert (len(desk.figure.repeats), desk.repeats[0].shown) == (1, "74 mmHg")
    assert points(desk, 7)[0] == (
        "against",
        "Recording 2: 74 mmHg (Mina Measurer), 16 mmHg apart: which is right? "
        "Look at both, or record a third.",
    )


def test_a_recording_that_was_accepted_and_then_refused_is_compared_with_nothing(measurer, exam):
    first = read_recording(measurer, exam)
    read_recording(measurer, exam, attempt=2, seed=5)
    mark(first, measurer)
    refused(first, measurer)

    assert points(desk_for(measurer, first.pk), 7)[0] == ("", "Recording 2: 89 mmHg (suggested).")


def test_the_verdict_behind_the_value_in_the_sheet_is_told_first(measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    moved(trace, reporter, 84)

    assert desk_for(reporter, trace.pk).lead.startswith(
        "RIGHT hallux 90 mmHg, good (marked by Mina Measurer)"
    )


def test_a_toe_well_above_its_ankle_is_asked_about(measurer):
    exam = exam_with(measurer, arm_right=140, right_posterior_tibial=62)

    told = points(desk_for(measurer, read_recording(measurer, exam).pk), 7)

    assert ("against", "28 mmHg above the RIGHT ankle (62 mmHg): a toe rarely is. Repeat both?") in told
    assert ("for", "Not much above the higher arm (140 mmHg).") in told


def test_an_ankle_that_cannot_be_occluded_is_no_measure_of_the_toe(measurer):
    exam = exam_with(measurer, right_posterior_tibial="*250")

    told = points(desk_for(measurer, read_recording(measurer, exam).pk), 7)

    assert "could not be occluded" in told[1][1]


@pytest.mark.parametrize(
    ("pressures", "writes", "asks"), [({}, True, False), ({"right_hallux": 48}, False, True)]
)
def test_it_says_what_a_verdict_does_to_the_sheet(measurer, pressures, writes, asks):
    sheet = desk_for(measurer, read_recording(measurer, exam_with(measurer, **pressures)).pk).sheet

    assert (sheet.writes, sheet.asks) == (writes, asks)


def test_a_protected_site_is_never_written_by_itself(measurer, exam):
    caution(measurer, exam.patient, region="toes", side="right", kind="wound")

    sheet = desk_for(measurer, read_recording(measurer, exam).pk).sheet

    assert not sheet.writes
    assert sheet.words.startswith("Do not inflate: ")


def test_a_reporter_is_told_that_their_mark_changes_no_value(measurer, reporter, exam):
    desk = desk_for(reporter, read_recording(measurer, exam).pk)

    assert desk.sheet.words == "Your mark is kept beside it; it changes no measured value."


def test_a_value_corrected_on_the_sheet_later_is_told_apart_from_the_mark(measurer, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    before = desk_for(measurer, trace.pk).sheet
    enter(exam, "right.toe_1.1", 84, measurer)

    after = desk_for(measurer, trace.pk).sheet

    assert (before.stands, before.from_this) == ("90 mmHg", True)
    assert (after.stands, after.from_this) == ("84 mmHg", False)
    assert (before.by_hand, after.by_hand) == (
        "",
        "corrected by hand; read from the recording as 90 mmHg",
    )


def test_a_value_corrected_by_hand_still_leads_to_the_recording_it_was_read_from(measurer, exam):
    trace = read_recording(measurer, exam)
    first = mark(trace, measurer).reading_id
    for typed in (84, 86):
        enter(exam, "right.toe_1.1", typed, measurer)
    now = exam.readings.latest("pk").pk
    keep_seen(traces=[trace.pk], by=measurer)

    assert [trace_of_reading(measurer, one) for one in (first, now)] == [trace.pk, trace.pk]
    assert desk_for(measurer, trace.pk).history[0].later == "then 84 mmHg"
    assert traces_of(measurer, exam)[0].by_hand == (
        "86 mmHg, corrected by hand; read from the recording as 90 mmHg"
    )


def test_a_refused_recording_and_its_repeat_are_told_apart(measurer, exam):
    first_at = datetime(2026, 11, 25, 14, 2, tzinfo=UTC)
    with clock.at(first_at):
        first = read_recording(measurer, exam)
        refused(first, measurer, verdict="repeat")
    with clock.at(first_at + timedelta(minutes=7)):
        repeat = read_recording(measurer, exam, seed=5)
    read_recording(measurer, exam, side="left")

    assert [one.title for one in traces_of(measurer, exam)] == [
        "RIGHT hallux, first recording 14:02",
        "RIGHT hallux, repeat 14:09",
        "LEFT hallux",
    ]
    assert [one.words for one in desk_for(measurer, first.pk).repeats] == ["recording 2"]
    assert [one.words for one in desk_for(measurer, repeat.pk).repeats] == ["recording 1"]


def test_history_keeps_every_mark_with_what_replaced_it_and_how_far_it_was(measurer, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    moved(trace, measurer, 82, reason="one beat too early")

    first, second = desk_for(measurer, trace.pk).history

    assert (first.stands, second.stands, second.reason) == (False, True, "one beat too early")
    assert second.apart == "8 mmHg (1.9 beats) below the suggestion"


def test_once_judged_the_verdict_comes_first_and_the_suggestion_after_it(measurer, exam):
    trace = read_recording(measurer, exam)
    moved(trace, measurer, 86)

    assert desk_for(measurer, trace.pk).lead == (
        "RIGHT hallux 86 mmHg, good (marked by Mina Measurer). "
        "Suggested: RIGHT hallux 90 mmHg (86 to 95), confidence high."
    )


def test_a_blind_reader_is_shown_nothing_that_points_at_the_mark(measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    read_recording(measurer, exam, attempt=2, seed=5)

    desk = desk_for(reporter, trace.pk, blind=True)

    assert (desk.beats, desk.questions, desk.repeats, desk.history, desk.choices) == ((), (), (), (), ())
    assert (desk.sheet, desk.mine, desk.elsewhere, desk.likely_reason) == (None, None, (), "")
    assert (desk.figure.dots, desk.figure.placed, desk.figure.whisker) == ((), (), None)
    assert desk.figure.view == desk.figure.whole
    assert [one.words for one in desk.strip.phases] == [
        "at rest",
        "emptied",
        "inflated",
        "deflated",
        "let down",
    ]
    assert desk.strip.marks == ()


def test_who_has_marked_a_recording_cannot_read_it_blind(measurer, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)

    assert not desk_for(measurer, trace.pk, blind=True).may_mark


def test_after_a_blind_reading_both_are_shown_with_their_difference(measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    moved(trace, reporter, 82, blind=True)

    desk = desk_for(reporter, trace.pk)

    assert [(one.blind, one.apart) for one in desk.history] == [
        (False, "at the suggestion"),
        (True, "8 mmHg (1.9 beats) below the suggestion"),
    ]
    assert ("theirs", "M. Measurer 90") in [(one.kind, one.words) for one in desk.figure.placed]


def test_no_line_of_the_figure_crosses_the_words_inside_it(measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    read_recording(measurer, exam, attempt=2, seed=5)
    mark(trace, measurer)
    moved(trace, reporter, 96, blind=True)

    figure = desk_for(reporter, trace.pk).figure

    inside = [one for one in figure.placed if one.kind in ("theirs", "repeat")]
    assert len(inside) == 3
    assert {one.anchor for one in inside} == {"end"}
    assert {one.words_at for one in inside} == {min(one.percent for one in inside)}
    assert inside[0].words_at < figure.whisker.percent
    assert len({one.y for one in inside}) == 3


def test_an_ankle_shows_its_pulses_under_their_envelope(measurer, exam):
    trace = read_recording(
        measurer, exam, family="pulsation_clean", site="posterior_tibial", technique="doppler"
    )

    desk = desk_for(measurer, trace.pk)

    assert desk.figure.envelope.startswith("M")
    assert "envelope" in desk.for_script["points"]


def test_a_recording_without_a_deflation_has_no_figure_but_its_strip(measurer, exam):
    trace = read_recording(measurer, exam, phases=())

    desk = desk_for(measurer, trace.pk)

    assert (desk.figure, desk.readable, desk.for_script) == (None, False, None)
    assert desk.strip.signal.startswith("M")
    with pytest.raises(NotHere):
        window_of(measurer, trace.pk, 0, 10)


def test_the_desk_asks_the_database_as_often_however_much_was_said(
    measurer, reporter, exam, django_assert_max_num_queries
):
    trace = read_recording(measurer, exam)
    read_recording(measurer, exam, attempt=2, seed=5)
    with django_assert_max_num_queries(14) as first:
        desk_for(measurer, trace.pk)
    mark(trace, measurer)
    moved(trace, measurer, 84, reason="one beat")
    moved(trace, reporter, 82, blind=True)
    read_recording(measurer, exam, attempt=3, seed=6)

    with django_assert_max_num_queries(14) as then:
        desk_for(measurer, trace.pk)

    assert len(first) == len(then)


def test_the_list_holds_what_nobody_has_judged_the_oldest_first(measurer, exam, django_assert_num_queries):
    first, second, third = (read_recording(measurer, exam, attempt=number) for number in (1, 2, 3))
    refused(second, measurer)

    with django_assert_num_queries(2):
        waiting = waiting_traces(measurer)

    assert [one.trace_id for one in waiting] == [first.pk, third.pk]
    assert waiting[0].why == "a pressure is suggested, confidence high"


def test_after_the_last_of_the_list_comes_its_first_again(measurer, exam):
    first, second, third = (read_recording(measurer, exam, attempt=number) for number in (1, 2, 3))

    assert next_waiting(measurer, after=first) == second
    assert next_waiting(measurer, after=third) == first


def test_a_second_reader_is_offered_what_others_have_marked(measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    mark(trace, measurer)

    assert [one.trace_id for one in for_a_second_reader(reporter)] == [trace.pk]
    assert [one.why for one in for_a_second_reader(reporter)] == [""]
    assert for_a_second_reader(measurer) == []


def test_a_suggestion_of_low_confidence_is_not_offered_even_where_it_is_usable(measurer, exam):
    desk = desk_for(measurer, read_recording(measurer, exam, confidence=Confidence.LOW).pk)

    assert desk.choices == ()
    assert desk.suggestion.why_not_offered.startswith("Confidence is low")


def test_another_clinics_recording_is_not_here(measurer, outsider, exam):
    with pytest.raises(NotHere):
        desk_for(outsider, read_recording(measurer, exam).pk)
