"""The small picture of a recording: what it says, and that it says it in black and white."""

import re

import numpy as np
from django.template.loader import render_to_string

from exams.hemodynamics import read_trace
from exams.traces.thumbnail import Shown, sketch_of
from tests.traces.made import read, simulated

NOTHING = Shown("", None, "not reviewed yet", "Recording of RIGHT hallux: not reviewed yet.")


def picture(shown: Shown, family: str = "clean") -> str:
    made = simulated(family)
    return drawn_of(made.time_s, made.cuff_mmhg, made.signal, read(family), shown)


def drawn_of(*recording) -> str:
    return render_to_string("traces/_sketch.html", {"sketch": sketch_of(*recording)})


def test_it_shows_the_mark_with_its_number_the_pressure_scale_and_the_quality():
    mark = read().mark

    drawn = picture(Shown("62", mark.time_s, "usable with caution", "…"))

    assert re.findall(r"<text[^>]*>([^<]*)<", drawn) == [
        "0",
        "50",
        "100",
        "150",
        "62 mmHg",
        "usable with caution",
    ]


def test_a_suggestion_that_differs_from_the_mark_is_a_hollow_triangle():
    mark = read().mark

    same, apart = (picture(Shown("62", at, "good", "…")) for at in (mark.time_s, mark.time_s + 4))

    assert ("h7L" in same, "h7L" in apart) == (False, True)


def test_without_a_mark_it_gives_no_number():
    assert "mmHg" not in picture(NOTHING)


def test_it_is_ink_on_white_with_attributes_alone():
    drawn = picture(Shown("62", read().mark.time_s, "good", "…"))

    assert set(re.findall(r"#[0-9a-f]{6}", drawn)) == {"#111827", "#4b5563", "#ffffff"}
    assert not re.search(r"style|class|<script|href", drawn)


def test_whoever_does_not_see_it_is_told_the_same():
    assert f"<title>{NOTHING.sentence}</title>" in picture(NOTHING)


def test_words_cannot_break_out_of_it():
    drawn = picture(Shown("", None, "<b>", "a & b"))

    assert "&lt;b&gt;" in drawn
    assert "a &amp; b" in drawn


def test_it_is_small_however_long_the_recording():
    time_s = np.arange(0, 1700, 0.01)
    cuff, signal = 140 - time_s / 17, np.sin(time_s)

    assert len(drawn_of(time_s, cuff, signal, read(), NOTHING)) < 12_000


def test_a_recording_of_nothing_is_a_frame_with_its_words():
    nothing = np.full(4, np.nan)

    drawn = drawn_of(nothing, nothing, nothing, read_trace(nothing, nothing, nothing), NOTHING)

    assert "nan" not in drawn
    assert "not reviewed yet" in drawn
