"""A real heart under a simulated cuff: the open pulse recording of the package e2epyppg (MIT licence).

`pulse/ppg_wrist_20hz_dc.csv` of the open data: 12 minutes at a wrist by photoplethysmography, without a cuff;
read by path and never copied. Beats and waves are the recording's, the occlusion is simulated
(`bench/_real_pulse.py`), so that the true systolic is known. The limits are those of the bench.
"""

import numpy as np
import pytest

from bench._real_pulse import real_pulse_trace, recording_path
from exams.hemodynamics import read_trace


@pytest.fixture(scope="module")
def read():
    if recording_path() is None:
        pytest.skip("the open pulse recording is not here (VASLAB_OPEN_DATA names its folder)")
    traces = [real_pulse_trace(seed, systolic_mmhg) for seed, systolic_mmhg in enumerate(range(30, 150, 2))]
    return [(t, read_trace(t.time_s, t.cuff_mmhg, t.signal)) for t in traces]


def test_none_is_refused(read):
    assert [t.systolic_mmhg for t, reading in read if not reading.usable] == []


def test_the_mark_is_as_near_the_true_systolic_as_the_ideal_reader(read):
    errors = [reading.mark.pressure_mmhg - t.systolic_mmhg for t, reading in read]
    ideal = [t.ideal_mmhg - t.systolic_mmhg for t, _ in read]

    assert np.mean(np.abs(errors)) <= 1.2 * np.mean(np.abs(ideal))
    assert np.percentile(np.abs(errors), 95) <= 7
    assert abs(np.mean(errors)) <= 1


def test_the_interval_holds_the_true_systolic(read):
    held = [r.mark.low_mmhg <= t.systolic_mmhg <= r.mark.high_mmhg for t, r in read]

    assert np.mean(held) >= 0.9
