"""Simulated recordings: the answer belongs to the recording, and only what is named is spoilt."""

import numpy as np
import pytest

from exams.hemodynamics import TRACE_FAMILIES, FlagCode, TraceKind, simulate_trace

RATE_PER_MIN, DEFLATION = 60.0, 3.0


def alike(seed):
    """A person whose beats are all alike, a cuff that falls 3 mmHg from beat to beat."""
    return simulate_trace(
        seed=seed,
        rate_per_min=RATE_PER_MIN,
        deflation_mmhg_per_s=DEFLATION,
        variability=0.0,
        sampling_hz=50,
    )


def samples(trace):
    return trace.time_s.tobytes() + trace.cuff_mmhg.tobytes() + trace.signal.tobytes()


@pytest.mark.parametrize("family", TRACE_FAMILIES)
def test_the_same_seed_gives_the_same_recording_and_another_seed_another_person(family):
    first, again, other = (simulate_trace(family=family, seed=seed) for seed in (5, 5, 6))

    assert samples(first) == samples(again)
    assert samples(first) != samples(other)
    assert first.systolic_mmhg == again.systolic_mmhg


@pytest.mark.parametrize("family", TRACE_FAMILIES)
def test_every_family_is_a_file_that_could_have_been_recorded(family):
    trace = simulate_trace(family=family, seed=11, systolic_mmhg=60, severity=1.0)

    assert trace.time_s.size == trace.cuff_mmhg.size == trace.signal.size
    assert np.all(np.diff(trace.time_s) > 0)
    assert np.all(np.isfinite(trace.cuff_mmhg))
    assert 10 < trace.time_s[-1] < 180


def test_the_ideal_reader_is_low_by_half_a_beat_on_average_and_spread_over_one_beat():
    # quality.md, Traces: the first beat to pass lies evenly up to r·T below systolic.
    errors = np.array([trace.ideal_mmhg - trace.systolic_mmhg for trace in map(alike, range(120))])

    # The valve bends by up to 15 % and the manometer's own noise is not in the ideal answer.
    beat_mmhg = DEFLATION * 60 / RATE_PER_MIN
    assert errors.mean() == pytest.approx(-beat_mmhg / 2, abs=0.3)
    assert errors.std() == pytest.approx(beat_mmhg / np.sqrt(12), abs=0.2)
    assert errors.max() <= 0


def test_the_systolic_is_the_one_asked_for_when_all_beats_are_alike():
    assert alike(3).systolic_mmhg == pytest.approx(90.0)


def test_nothing_flows_while_the_cuff_stands_above_systolic():
    trace = alike(2)
    rise = np.ptp(trace.signal)
    occluded = (trace.time_s < trace.ideal_time_s - 0.3) & (trace.time_s > trace.ideal_time_s - 5)
    after = (trace.time_s > trace.ideal_time_s + 4) & (trace.time_s < trace.ideal_time_s + 6)

    assert np.ptp(trace.signal[occluded]) < 0.06 * rise
    assert trace.signal[after].mean() - trace.signal[occluded].mean() > 0.3 * rise


def test_the_rise_starts_softly():
    # The first beat brings less than a third of what the third brings.
    trace = alike(2)
    levels = np.interp(trace.ideal_time_s + np.array([-0.3, 0.7, 1.7, 2.7]), trace.time_s, trace.signal)

    brought = np.diff(levels)

    assert brought[0] < brought[2] / 3


def test_a_recording_without_return_has_no_answer():
    trace = simulate_trace(family="no_return", seed=1)

    assert (trace.systolic_mmhg, trace.ideal_mmhg, trace.ideal_time_s) == (None, None, None)
    assert trace.expected_flags == {FlagCode.NO_RETURN}
    assert not trace.should_be_usable


def test_a_recording_stopped_before_the_return_does_not_hold_the_ideal_answer():
    trace = simulate_trace(family="stopped_too_early", seed=1, severity=1.0)

    assert trace.cuff_mmhg[-1] > trace.systolic_mmhg
    assert trace.ideal_mmhg is None


def test_a_cuff_started_too_low_never_stands_above_systolic():
    trace = simulate_trace(family="started_too_low", seed=4, systolic_mmhg=100)

    assert trace.cuff_mmhg.max() < trace.systolic_mmhg
    assert trace.ideal_mmhg is None


def test_a_gap_at_the_start_hides_the_beat_that_passes_first():
    trace = simulate_trace(family="gap_at_start", seed=4)

    known = trace.time_s[np.isfinite(trace.signal)]

    assert np.min(np.abs(known - trace.ideal_time_s)) > 0.4


def test_a_clipped_start_stands_on_one_value():
    trace = simulate_trace(family="clipping_at_start", seed=4)

    before = trace.signal[(trace.time_s > trace.ideal_time_s - 3) & (trace.time_s < trace.ideal_time_s + 0.3)]

    assert np.unique(before).size == 1


def test_low_and_high_rate_mean_20_and_1000_samples_a_second():
    low, high = (simulate_trace(family=family, seed=1) for family in ("low_rate", "high_rate"))

    assert np.median(np.diff(low.time_s)) == pytest.approx(0.05, abs=0.01)
    assert np.median(np.diff(high.time_s)) == pytest.approx(0.001)


def test_pulses_and_no_refill_return_beyond_an_arm_or_ankle_cuff():
    trace = simulate_trace(family="pulsation_clean", seed=2, variability=0.0)
    height = np.ptp(trace.signal)
    occluded = (trace.time_s < trace.ideal_time_s - 0.3) & (trace.time_s > trace.ideal_time_s - 5)

    assert trace.kind is TraceKind.PULSATION
    assert np.ptp(trace.signal[occluded]) < 0.1 * height


def test_an_inverted_sensor_falls_as_the_blood_returns():
    trace = simulate_trace(family="inverted", seed=3)

    before, after = np.interp([trace.ideal_time_s, trace.ideal_time_s + 6], trace.time_s, trace.signal)

    assert after < before
