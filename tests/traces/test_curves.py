"""The cuff pressure that falls, a pressure's place in time, and few points of many."""

import numpy as np
import pytest

from exams.hemodynamics import read_trace
from exams.traces.curves import MOST_POINTS, Fall, envelope_of, fall_of, few, part_of, shares
from tests.traces.made import read, simulated


def fall(family: str = "clean") -> Fall:
    made = simulated(family)
    found = fall_of(made.time_s, made.cuff_mmhg, made.signal, read(family))
    assert found is not None
    return found


def falling(cuff_mmhg) -> Fall:
    """A deflation with this cuff pressure, ten samples a second."""
    cuff = np.maximum.accumulate(np.array(cuff_mmhg, float)[::-1])[::-1]
    return Fall(np.arange(len(cuff)) / 10, cuff, np.zeros(len(cuff)), None)


@pytest.mark.parametrize("count", [1, 2, 1999, 2000, 2001, 2003, 54_321])
def test_at_most_two_thousand_points_are_drawn_with_both_ends_and_every_extreme(count):
    values = np.sin(np.arange(count) * 0.7) * np.linspace(1, 2, count)

    kept = few(values)

    assert len(kept) <= MOST_POINTS
    assert {0, count - 1, int(np.argmin(values)), int(np.argmax(values))} <= set(kept.tolist())
    assert list(kept) == sorted(set(kept.tolist()))


def test_one_sample_that_jumps_is_never_lost():
    values = np.zeros(200_000)
    values[123_457] = -9.0

    assert 123_457 in few(values)


def test_a_long_stretch_without_a_signal_stays_a_gap():
    values = np.ones(100_000)
    values[40_000:60_000] = np.nan

    drawn = values[few(values)]

    assert np.isnan(drawn).any()
    assert np.isfinite(drawn[[0, -1]]).all()


def test_a_pressure_stands_at_the_last_time_the_falling_cuff_showed_it():
    # 60 is passed, pumped up past again, and passed for good between samples 7 and 8.
    made = falling([80, 70, 60, 55, 65, 70, 65, 60, 50, 40])

    assert made.time_at(60) == pytest.approx(0.7)
    assert made.time_at(55) == pytest.approx(0.75)


def test_a_pressure_beyond_the_recording_stands_at_its_end():
    made = falling([80, 70, 60])

    assert (made.time_at(99), made.time_at(10)) == (0.0, 0.2)


@pytest.mark.parametrize("family", ["clean", "uneven_deflation", "coarse_manometer", "low_rate"])
def test_the_cuff_never_rises_and_pressure_and_time_lead_to_each_other(family):
    made = fall(family)

    assert (np.diff(made.cuff_mmhg) <= 0).all()
    for mmhg in (75.5, 84.0, 99.5):
        assert made.mmhg_at(made.time_at(mmhg)) == pytest.approx(mmhg, abs=1e-6)


@pytest.mark.parametrize("family", ["clean", "coarse_manometer", "inverted"])
def test_a_suggestion_stands_where_its_pressure_is(family):
    mark = read(family).mark

    assert fall(family).mmhg_at(mark.time_s) == pytest.approx(mark.pressure_mmhg, abs=1.0)


def test_a_manometer_that_shows_whole_mmhg_only_still_gives_an_even_fall():
    time_s = np.arange(0, 40, 0.02)
    true = np.where(time_s < 5, 130.0, 130 - 2 * (time_s - 5))
    made = fall_of(time_s, np.round(true), simulated().signal[:1].repeat(len(time_s)), read())

    assert made is not None
    inner = slice(100, -100)
    assert np.abs(made.cuff_mmhg[inner] - (130 - 2 * (made.time_s[inner] - 5))).max() < 0.6


def test_more_blood_is_upwards_whatever_the_sensor_did():
    made = fall("inverted")

    assert made.signal[-1] > made.signal[0]


def test_a_recording_without_a_deflation_has_none():
    time_s = np.arange(0, 10, 0.02)
    flat = np.full(len(time_s), 3.0)

    assert fall_of(time_s, flat, flat, read_trace(time_s, flat, flat)) is None


def test_the_line_over_the_pulses_never_rises_before_the_pulse_that_lifts_it():
    time_s = np.arange(0, 10, 0.02)
    signal = np.where(time_s > 5, np.maximum(np.sin(2 * np.pi * time_s), 0), 0.0)

    over = envelope_of(time_s, signal, beat_s=1.0)

    assert over[time_s <= 5].max() == 0
    assert over[time_s > 6.3].min() > 0.9


def test_a_window_holds_few_points_and_reaches_its_edges():
    time_s = np.arange(0, 1700, 0.01)
    made = Fall(time_s, 140 - time_s / 17, np.sin(time_s), None)

    points = part_of(made, 100.0, 900.0)

    assert len(points["time_s"]) <= MOST_POINTS
    assert points["time_s"][0] < 1_000_000 < 9_000_000 < points["time_s"][-1]
    assert points["mmhg"] == sorted(points["mmhg"], reverse=True)


def test_a_missing_value_is_null_and_a_flat_signal_stands_in_the_middle():
    assert np.isnan(shares(np.array([np.nan, 1.0, 2.0]))[0])
    assert list(shares(np.array([4.0, 4.0]))) == [0.5, 0.5]
    made = Fall(np.arange(3.0), np.array([9.0, 8.0, 7.0]), np.array([0.0, np.nan, 1.0]), None)
    assert part_of(made, 0, 2)["level"] == [0, None, 10_000]
