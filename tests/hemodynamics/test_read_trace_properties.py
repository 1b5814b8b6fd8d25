"""What holds for every recording: units, polarity, clock and sampling leave the mark; nothing raises."""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from exams.hemodynamics import NotStated, TraceReading, read_trace, simulate_trace

quick = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module", params=["clean", "one_cuff", "slow_venous_refill"])
def trace(request):
    return simulate_trace(family=request.param, seed=12, systolic_mmhg=85, sampling_hz=100)


def beat_mmhg(reading):
    return 3.0 if isinstance(reading.beat_mmhg, NotStated) else reading.beat_mmhg


def test_units_and_offset_of_the_signal_do_not_move_the_mark(trace):
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)

    @quick
    @given(st.floats(1e-6, 1e6), st.floats(-1e6, 1e6))
    def hold(scale, offset):
        other = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal * scale + offset * scale)
        assert abs(other.mark.pressure_mmhg - reading.mark.pressure_mmhg) <= beat_mmhg(reading)
        assert other.usable == reading.usable

    hold()


def test_polarity_does_not_move_the_mark(trace):
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)

    upside_down = read_trace(trace.time_s, trace.cuff_mmhg, -trace.signal)

    assert upside_down.polarity == -reading.polarity
    assert upside_down.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=1e-6)


@pytest.mark.parametrize("shift_s", [0.5, 1000.0, -40.0])
def test_a_shifted_clock_shifts_the_mark_exactly(trace, shift_s):
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)

    shifted = read_trace(trace.time_s + shift_s, trace.cuff_mmhg, trace.signal)

    assert shifted.mark.time_s - reading.mark.time_s == pytest.approx(shift_s, abs=0.02)
    assert shifted.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=0.1)


@pytest.mark.parametrize("hz", [25, 40, 60, 200, 500])
def test_another_sampling_moves_the_mark_by_less_than_a_beat(trace, hz):
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)
    known = np.isfinite(trace.signal)
    clock = np.arange(trace.time_s[0], trace.time_s[-1], 1 / hz)

    other = read_trace(
        clock,
        np.interp(clock, trace.time_s, trace.cuff_mmhg),
        np.interp(clock, trace.time_s[known], trace.signal[known]),
    )

    assert abs(other.mark.pressure_mmhg - reading.mark.pressure_mmhg) <= beat_mmhg(reading)


numbers = st.floats(allow_nan=True, allow_infinity=True, width=64)
rows = arrays.arrays(np.float64, st.integers(0, 400), elements=numbers, fill=numbers)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows, rows, rows)
def test_any_numbers_give_a_reading_or_a_stated_reason(time_s, cuff_mmhg, signal):
    reading = read_trace(time_s, cuff_mmhg, signal)

    assert reading.flags or not isinstance(reading.mark, NotStated)


@quick
@given(st.data())
def test_a_spoilt_recording_never_raises_and_can_be_stored(data):
    trace = simulate_trace(family="clean", seed=4, systolic_mmhg=60, sampling_hz=50)
    length = len(trace.time_s)
    begin, end = sorted((data.draw(st.integers(0, length)), data.draw(st.integers(0, length))))
    spoilt = {
        "time_s": trace.time_s.copy(),
        "cuff_mmhg": trace.cuff_mmhg.copy(),
        "signal": trace.signal.copy(),
    }
    spoilt[data.draw(st.sampled_from(sorted(spoilt)))][begin:end] = data.draw(numbers)

    with np.errstate(all="ignore"):
        reading = read_trace(**spoilt)

    plain = json.loads(json.dumps(reading.to_json(), allow_nan=False))
    assert TraceReading.from_json(plain) == reading


@pytest.mark.parametrize(
    "row", [[], [1.0], ["a"] * 100, [None] * 100, [1e308] * 100, [[1, 2], [3]], "cuff", object()]
)
def test_what_is_no_recording_is_told_so(row):
    reading = read_trace(row, row, row)

    assert not reading.usable
    assert reading.flags[0].words


def test_different_lengths_are_told_so():
    reading = read_trace(np.arange(300) / 50, np.zeros(299), np.zeros(300))

    assert "different lengths" in reading.flags[0].words


def test_the_same_recording_is_read_the_same_way_twice(trace):
    first, again = (read_trace(trace.time_s, trace.cuff_mmhg, trace.signal) for _ in range(2))

    assert first == again
