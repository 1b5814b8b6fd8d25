"""The reader on recordings of another origin than our own simulator's (`other_recordings.py`).

The reader does NOT reach quality.md on these. Their author's limits for this file were 1.4 times the ideal
reader's error, bias 1.5 and 95th percentile 7 mmHg, nothing wrong by more than 10 mmHg and nothing untrusted
reported. The reader failed them (1.76 times, 2.2 mmHg low, 7.3 mmHg; `mains` 40 and `gap_at_start` 40), and
somebody else then widened them to what it does, so that it gets no worse unseen. Passing here is not evidence
that it is good (docs/return-of-flow.md).
"""

import numpy as np
import pytest

from exams.hemodynamics import NotStated, read_trace
from tests.hemodynamics.other_recordings import NO_RETURN, TRUSTWORTHY, UNTRUSTED, recordings

SEEDS = (40, 41)


def read(families):
    return [(r, read_trace(r.time_s, r.cuff_mmhg, r.signal)) for r in recordings(families, SEEDS)]


@pytest.fixture(scope="module")
def trustworthy():
    return read(TRUSTWORTHY)


@pytest.fixture(scope="module")
def usable(trustworthy):
    return [(recording, reading.mark) for recording, reading in trustworthy if reading.usable]


@pytest.fixture(scope="module")
def untrusted():
    return read(UNTRUSTED)


def test_good_recordings_are_not_refused(trustworthy):
    refused = [
        (r.family, r.seed, [f.code for f in reading.flags])
        for r, reading in trustworthy
        if not reading.usable
    ]

    # 2 of 100 may be; of 42 that is one, and two by chance.
    assert len(refused) <= 2, refused


def test_the_error_grows_no_worse_than_it_was_found(usable):
    errors = np.array([mark.pressure_mmhg - r.systolic_mmhg for r, mark in usable])
    ideal = np.array([r.ideal_mmhg - r.systolic_mmhg for r, _ in usable])

    # First written: 1.4 times, 1.5 and 7 mmHg. Quality: 1.2 times, 1 and 7.
    assert np.abs(errors).mean() <= 1.9 * np.abs(ideal).mean()
    assert abs(errors.mean()) <= 2.5
    assert np.percentile(np.abs(errors), 95) <= 9


def test_the_interval_holds_the_true_systolic_and_is_not_wide(usable):
    held = [mark.low_mmhg <= r.systolic_mmhg <= mark.high_mmhg for r, mark in usable]

    # 95 of 100: with 40 recordings four outside happen once in seven samples, five once in twenty.
    assert held.count(False) <= 4
    assert np.mean([mark.high_mmhg - mark.low_mmhg for _, mark in usable]) <= 12


def test_nothing_is_wrong_by_more_than_10_mmhg_without_a_word(usable):
    wrong = [(r.family, r.seed) for r, mark in usable if abs(mark.pressure_mmhg - r.systolic_mmhg) > 10]

    # First written: none. One is known, mains 40.
    assert len(wrong) <= 1, wrong


def test_what_cannot_be_trusted_is_not_reported(untrusted):
    reported = [(r.family, r.seed) for r, reading in untrusted if reading.usable]

    # First written: none. One is known, gap_at_start 40.
    assert len(reported) <= 1, reported


def test_what_cannot_be_trusted_is_called_by_its_fault(untrusted):
    unnamed = [
        (r.family, r.seed)
        for r, reading in untrusted
        if not {flag.code for flag in reading.flags} & set(UNTRUSTED[r.family])
    ]

    assert len(unnamed) <= 1, unnamed


@pytest.mark.parametrize("family", NO_RETURN)
def test_where_no_blood_returns_no_pressure_is_invented(family):
    readings = [reading for _, reading in read([family])]

    assert [reading.usable for reading in readings] == [False, False]
    assert all("no_return" in {flag.code for flag in reading.flags} for reading in readings)
    assert all(isinstance(reading.mark, NotStated) for reading in readings)
