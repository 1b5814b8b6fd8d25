"""What leaves a reading as it is, and what may never stop one: on recordings of another origin.

Beside `test_read_trace_properties.py`, whose recordings are our own simulator's.
"""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exams.hemodynamics import NotStated, TraceKind, TraceReading, read_trace
from tests.hemodynamics.other_recordings import recordings

few = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
FAMILIES = ("clean", "cold", "slow_refill", "gap_elsewhere")
RECORDINGS = {recording.family: recording for recording in recordings(FAMILIES, (0,))}
READINGS = {name: read_trace(r.time_s, r.cuff_mmhg, r.signal) for name, r in RECORDINGS.items()}
families = st.sampled_from(FAMILIES)
anything = st.floats(allow_nan=True, allow_infinity=True)
SPOILS = (
    lambda row, part, value: np.where(part, value, row),
    lambda row, part, value: np.where(part, row * value, row),
    lambda row, part, _: np.where(part, row[::-1], row),
    lambda row, part, _: np.where(part, row.mean() if row.size else 0.0, row),
    lambda row, part, _: row[~part],
)


def one_beat_mmhg(reading):
    return 3.0 if isinstance(reading.beat_mmhg, NotStated) else reading.beat_mmhg


@few
@given(families, st.sampled_from([-1, 1]), st.floats(1e-9, 1e9), st.floats(-1e3, 1e3))
def test_unit_standing_level_and_polarity_leave_the_mark_within_a_beat(family, polarity, unit, level):
    recording, reading = RECORDINGS[family], READINGS[family]
    signal = polarity * (recording.signal / np.nanstd(recording.signal) + level) * unit

    other = read_trace(recording.time_s, recording.cuff_mmhg, signal)

    assert other.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=one_beat_mmhg(reading))
    assert (other.usable, other.polarity) == (reading.usable, reading.polarity * polarity)


@few
@given(families, st.floats(-1e5, 1e5))
def test_a_shifted_clock_shifts_the_mark_and_nothing_else(family, shift_s):
    recording, reading = RECORDINGS[family], READINGS[family]

    other = read_trace(recording.time_s + shift_s, recording.cuff_mmhg, recording.signal)

    sample_s = np.median(np.diff(recording.time_s))
    assert other.mark.time_s - shift_s == pytest.approx(reading.mark.time_s, abs=sample_s)
    assert other.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=0.5)


# Not the cold toe: its noise, drawn anew by another sampling, alone moves the mark by more than a beat.
@few
@given(st.sampled_from(["clean", "slow_refill", "gap_elsewhere"]), st.floats(25, 400))
def test_another_sampling_leaves_the_mark_within_a_beat(family, hz):
    recording, reading = RECORDINGS[family], READINGS[family]
    clock = np.arange(recording.time_s[0], recording.time_s[-1], 1 / hz)
    cuff, signal = (
        np.interp(clock, recording.time_s, row) for row in (recording.cuff_mmhg, recording.signal)
    )

    other = read_trace(clock, cuff, signal)

    assert other.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=one_beat_mmhg(reading))


@few
@given(families, st.lists(st.integers(0, 1000), max_size=60))
def test_the_order_of_the_rows_does_not_matter_while_the_clock_is_kept(family, moved):
    recording, reading = RECORDINGS[family], READINGS[family]
    order = np.arange(recording.time_s.size)
    order[moved] = order[moved[::-1]]

    other = read_trace(recording.time_s[order], recording.cuff_mmhg[order], recording.signal[order])

    # A row met twice pushed another out; sixty of some thousand rows are no loss.
    assert other.mark.pressure_mmhg == pytest.approx(reading.mark.pressure_mmhg, abs=one_beat_mmhg(reading))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_whatever_happens_to_a_recording_it_is_read_or_refused_with_a_reason_and_can_be_stored(data):
    recording = RECORDINGS["clean"]
    rows = [recording.time_s, recording.cuff_mmhg, recording.signal]
    for _ in range(data.draw(st.integers(1, 3))):
        which = data.draw(st.integers(0, 2))
        size = rows[which].size
        begin, end = sorted((data.draw(st.integers(0, size)), data.draw(st.integers(0, size))))
        spoil = data.draw(st.sampled_from(SPOILS))
        part = (np.arange(size) >= begin) & (np.arange(size) < end)
        with np.errstate(all="ignore"):
            rows[which] = spoil(rows[which], part, data.draw(anything))

    reading = read_trace(*rows, kind=data.draw(st.sampled_from(list(TraceKind))))

    assert reading.usable or any(flag.refuses and flag.words for flag in reading.flags)
    assert not (reading.usable and isinstance(reading.mark, NotStated))
    assert TraceReading.from_json(json.loads(json.dumps(reading.to_json(), allow_nan=False))) == reading
