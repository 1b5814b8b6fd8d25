"""What the reader of a trace promises: a good mark, an honest interval, and no pressure where none is.

The whole table against quality's limits is the bench's (`./run bench traces`); here a small sample holds it.
"""

from collections import defaultdict

import numpy as np
import pytest

from exams.hemodynamics import (
    QUESTION_OF_FLAG,
    TRACE_FAMILIES,
    Confidence,
    FlagCode,
    Mark,
    NotStated,
    PhaseName,
    TraceReading,
    read_trace,
    simulate_trace,
)

SEEDS = range(300, 304)
PRESSURES_MMHG = (40.0, 70.0, 100.0, 140.0)


@pytest.fixture(scope="module")
def sample():
    """Four people of every family, read."""
    read = defaultdict(list)
    for family in TRACE_FAMILIES:
        for seed, systolic_mmhg in zip(SEEDS, PRESSURES_MMHG, strict=True):
            trace = simulate_trace(family=family, seed=seed, systolic_mmhg=systolic_mmhg)
            reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal, kind=trace.kind)
            read[trace.should_be_usable].append((trace, reading))
    return read


@pytest.fixture(scope="module")
def clean():
    trace = simulate_trace(family="clean", seed=7, systolic_mmhg=92)
    return trace, read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)


def test_the_mark_is_as_near_the_true_systolic_as_the_ideal_reader(sample):
    errors = [r.mark.pressure_mmhg - t.systolic_mmhg for t, r in sample[True] if r.usable]
    ideal = [t.ideal_mmhg - t.systolic_mmhg for t, r in sample[True] if r.usable]

    assert np.mean(np.abs(errors)) <= 1.2 * np.mean(np.abs(ideal))
    assert np.percentile(np.abs(errors), 95) <= 7
    assert abs(np.mean(errors)) <= 1


def test_the_interval_holds_the_true_systolic_and_is_not_wide(sample):
    marks = [(t.systolic_mmhg, r.mark) for t, r in sample[True] if r.usable]

    held = [mark.low_mmhg <= systolic <= mark.high_mmhg for systolic, mark in marks]
    assert np.mean(held) >= 0.92
    assert np.mean([mark.high_mmhg - mark.low_mmhg for _, mark in marks]) <= 12


def test_good_recordings_are_not_refused(sample):
    refused = [(t.family, [flag.code for flag in r.flags]) for t, r in sample[True] if not r.usable]

    assert len(refused) <= 0.04 * len(sample[True]), refused


def test_what_cannot_be_trusted_is_not_reported_and_says_why(sample):
    reported = [t.family for t, r in sample[False] if r.usable]
    unnamed = [t.family for t, r in sample[False] if not t.expected_flags & {flag.code for flag in r.flags}]

    assert len(reported) <= 1, reported
    assert len(unnamed) <= 0.1 * len(sample[False]), unnamed


def test_an_unusable_recording_is_never_more_than_low_confidence(sample):
    assert {r.confidence for _, r in sample[False] if not r.usable} == {Confidence.LOW}


@pytest.mark.parametrize(
    ("spoilt", "named"),
    [
        ({"signal": lambda t: np.full(t.time_s.size, 512.0)}, ["low_amplitude", "no_return"]),
        ({"signal": lambda t: np.full(t.time_s.size, np.nan)}, ["gap_at_mark", "low_amplitude"]),
        ({"cuff_mmhg": lambda t: np.zeros(t.time_s.size)}, ["started_too_low"]),
        ({"cuff_mmhg": lambda t: np.full(t.time_s.size, 140.0)}, ["stopped_too_early"]),
        ({"time_s": lambda t: t.time_s / 100}, ["stopped_too_early"]),
        ({"cuff_mmhg": lambda t: np.full(t.time_s.size, np.nan)}, ["unreadable"]),
    ],
)
def test_what_holds_nothing_to_read_is_called_by_what_is_missing(clean, spoilt, named):
    trace, _ = clean
    rows = {name: getattr(trace, name) for name in ("time_s", "cuff_mmhg", "signal")}
    rows |= {name: made(trace) for name, made in spoilt.items()}

    reading = read_trace(**rows)

    assert [str(flag.code) for flag in reading.flags] == named
    assert not reading.usable


def test_a_sensor_that_sees_no_pulse_anywhere_is_called_weak(clean):
    trace, _ = clean
    noise = np.random.default_rng(1).normal(512, 1, trace.time_s.size)

    flags = read_trace(trace.time_s, trace.cuff_mmhg, noise).flags

    assert {FlagCode.LOW_AMPLITUDE, FlagCode.NO_RETURN} <= {flag.code for flag in flags if flag.refuses}


def test_pulses_that_a_leak_lets_through_are_not_called_weak():
    trace = simulate_trace(family="leaking_occlusion", seed=42, systolic_mmhg=84, sampling_hz=50)

    flags = {flag.code for flag in read_trace(trace.time_s, trace.cuff_mmhg, trace.signal).flags}

    assert FlagCode.OCCLUSION_DOUBTFUL in flags
    assert FlagCode.LOW_AMPLITUDE not in flags


@pytest.mark.parametrize(("times_the_rise", "slowness_s"), [(2, 9), (4, 15), (8, 25)])
def test_veins_that_fill_the_pulp_before_the_artery_does_hide_no_return(clean, times_the_rise, slowness_s):
    trace, reading = clean
    occluded = next(one for one in reading.phases if one.name is PhaseName.OCCLUDED)
    rise = np.ptp(trace.signal[trace.time_s > occluded.start_s])
    since = np.maximum(trace.time_s - occluded.start_s, 0)
    veins = reading.polarity * times_the_rise * rise * (1 - np.exp(-since / slowness_s))

    filled = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal + veins)

    assert filled.usable
    assert filled.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=3)


def test_no_reason_speaks_for_what_a_flag_speaks_against(sample):
    for _, reading in (*sample[True], *sample[False]):
        flagged = {QUESTION_OF_FLAG[flag.code] for flag in reading.flags}
        assert flagged.isdisjoint(reason.question for reason in reading.reasons)


def test_no_return_invents_no_pressure():
    trace = simulate_trace(family="no_return", seed=3)

    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)

    assert isinstance(reading.mark, NotStated)
    assert FlagCode.NO_RETURN in {flag.code for flag in reading.flags}


def test_the_phases_are_named_in_their_order(clean):
    _, reading = clean

    names = [phase.name for phase in reading.phases]
    assert names[:5] == [
        PhaseName.REST,
        PhaseName.EMPTYING,
        PhaseName.INFLATION,
        PhaseName.OCCLUDED,
        PhaseName.RETURN,
    ]
    assert all(a.end_s <= b.start_s + 1e-9 for a, b in zip(reading.phases, reading.phases[1:], strict=False))


def test_one_beat_costs_the_rate_of_deflation_times_the_interval(clean):
    _, reading = clean

    assert reading.beat_mmhg == pytest.approx(reading.deflation_mmhg_per_s * reading.beat_interval_s)


def test_the_mark_stands_where_the_cuff_had_its_pressure(clean):
    trace, reading = clean

    assert np.interp(reading.mark.time_s, trace.time_s, trace.cuff_mmhg) == pytest.approx(
        reading.mark.pressure_mmhg, abs=1.5
    )


def test_every_question_of_the_trade_gets_an_answer(clean):
    _, reading = clean

    assert sorted({reason.question for reason in reading.reasons}) == [1, 2, 3, 4, 5, 6]


def test_a_recording_still_too_short_is_not_enough_and_a_whole_one_is(clean):
    trace, reading = clean

    early = _until(trace, reading.mark.time_s + 1.0)

    assert (early.enough, reading.enough) == (False, True)


def test_more_of_the_recording_than_enough_does_not_change_the_answer(clean):
    trace, whole = clean

    first_enough = next(
        reading
        for end in np.arange(whole.mark.time_s, trace.time_s[-1], 0.5)
        if (reading := _until(trace, end)).enough
    )

    assert whole.mark.low_mmhg <= first_enough.mark.pressure_mmhg <= whole.mark.high_mmhg


def test_a_reading_survives_being_stored(sample):
    for _, reading in (*sample[True][:10], *sample[False][:10]):
        assert TraceReading.from_json(reading.to_json()) == reading


def test_a_quick_deflation_widens_the_interval():
    slow, quick = (
        simulate_trace(family="clean", seed=5, systolic_mmhg=90, deflation_mmhg_per_s=rate) for rate in (2, 6)
    )

    slow_mark, quick_mark = (read_trace(t.time_s, t.cuff_mmhg, t.signal).mark for t in (slow, quick))

    assert isinstance(slow_mark, Mark)
    assert isinstance(quick_mark, Mark)
    assert quick_mark.high_mmhg - quick_mark.low_mmhg > slow_mark.high_mmhg - slow_mark.low_mmhg


def _until(trace, end_s):
    """The reading of what was recorded up to a time."""
    kept = trace.time_s < end_s
    return read_trace(trace.time_s[kept], trace.cuff_mmhg[kept], trace.signal[kept])
