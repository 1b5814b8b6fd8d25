"""The worker reads a recording: once, whole, or with words for why not."""

from decimal import Decimal

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access.models import TrailRow
from exams.hemodynamics import READER_VERSION, TraceReading
from exams.traces.files import TraceFileError
from exams.traces.models import Analysis, Trace
from exams.traces.queries.exam import traces_of
from exams.traces.samples import unpack
from exams.traces.services import reading
from exams.traces.services.reading import analyse, analyse_again
from exams.traces.services.receiving import match_trace, receive_file, withdraw_trace
from jobs.models import JobState
from jobs.services import run
from tests.build import ready_exam
from tests.traces.made import sent_recording
from tests.traces.walk import csv_file, toe_samples

HALLUX = {"side": "right", "site": "toe_1", "attempt": 1, "technique": "two_cuffs"}
SAMPLES = dict(zip(("time_s", "cuff_mmhg", "signal"), toe_samples(), strict=True))


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def waiting(exam, measurer) -> Trace:
    return sent_recording(measurer, exam, **SAMPLES)


def dropped(exam, measurer) -> Trace:
    trace = receive_file(exam=exam, name="R.csv", content=csv_file(*toe_samples()), by=measurer)
    return match_trace(trace=trace, **HALLUX, by=measurer)


def test_the_job_leaves_a_suggestion_with_its_interval_and_the_reader_s_version(waiting):
    run(waiting.job.pk)

    waiting.refresh_from_db()
    analysis = waiting.analyses.get()
    assert waiting.state == "read"
    assert analysis.version == READER_VERSION
    assert analysis.low_mmhg <= analysis.pressure_mmhg <= analysis.high_mmhg
    assert analysis.pressure_mmhg == analysis.pressure_mmhg.quantize(Decimal("0.1"))
    assert TraceReading.from_json(analysis.reading).usable == analysis.usable
    waiting.job.refresh_from_db()
    assert waiting.job.state == JobState.DONE
    assert waiting.job.result == {"open": f"/traces/exam/{waiting.exam_id}/"}


def test_a_file_is_read_as_its_samples_would_be(exam, measurer):
    trace = dropped(exam, measurer)

    analyse(trace=trace, by=measurer)

    trace.refresh_from_db()
    time_s, cuff_mmhg, signal = unpack(bytes(trace.samples))
    np.testing.assert_allclose(time_s, SAMPLES["time_s"], atol=5e-4)
    np.testing.assert_allclose(cuff_mmhg, SAMPLES["cuff_mmhg"], atol=5e-3)
    np.testing.assert_allclose(signal, SAMPLES["signal"], atol=5e-6)
    assert (trace.state, trace.sample_count) == ("read", len(time_s))


def test_read_twice_a_recording_has_one_suggestion_and_one_line(waiting, measurer):
    first = analyse(trace=waiting, by=measurer)

    assert analyse(trace=waiting, by=measurer) == first
    assert Analysis.objects.count() == 1
    assert TrailRow.objects.filter(action="trace read").count() == 1


def test_a_worker_that_comes_second_finds_the_first_one_s_suggestion(waiting, measurer, monkeypatch):
    """Both have begun; the other one ends while this one still computes."""
    original, made = reading.read_trace, []

    def slower(*samples, kind):
        monkeypatch.setattr(reading, "read_trace", original)
        made.append(analyse(trace=Trace.objects.get(pk=waiting.pk), by=measurer))
        return original(*samples, kind=kind)

    monkeypatch.setattr(reading, "read_trace", slower)

    assert analyse(trace=waiting, by=measurer) == made[0]
    assert Analysis.objects.count() == 1


def test_a_file_that_cannot_be_parsed_fails_in_words_and_keeps_its_bytes(exam, measurer, monkeypatch):
    def refuse(*about):
        raise TraceFileError("time_wrong", "The times do not move.")

    trace = dropped(exam, measurer)
    monkeypatch.setattr("exams.traces.files.parse_safely", refuse)

    assert analyse(trace=trace, by=measurer) is None

    trace.refresh_from_db()
    assert (trace.state, trace.problem) == ("failed", "The times do not move.")
    assert trace.original.size == trace.original_size
    assert TrailRow.objects.filter(action="trace could not be read").count() == 1


def test_a_stored_file_that_is_gone_fails_in_words(exam, measurer):
    trace = dropped(exam, measurer)
    trace.original.storage.delete(trace.original.name)

    analyse(trace=trace, by=measurer)

    trace.refresh_from_db()
    assert trace.state == "failed"
    assert "not the one that was received" in trace.problem


def test_a_recording_withdrawn_while_it_waits_is_not_read(waiting, measurer):
    withdraw_trace(trace=waiting, because="wrong patient", by=measurer)

    assert analyse(trace=waiting, by=measurer) is None
    assert Trace.objects.get(pk=waiting.pk).state == "waiting"


def test_where_nothing_is_found_no_pressure_is_kept(exam, measurer):
    flat = {"time_s": np.arange(500) / 50, "cuff_mmhg": np.zeros(500), "signal": np.full(500, np.nan)}
    trace = sent_recording(measurer, exam, **flat)

    analysis = analyse(trace=trace, by=measurer)

    assert (analysis.pressure_mmhg, analysis.usable) == (None, False)


def test_a_later_reader_adds_its_suggestion_and_changes_nothing_else(waiting, measurer, monkeypatch):
    first = analyse(trace=waiting, by=measurer)
    before = Trace.objects.filter(pk=waiting.pk).values().get()
    original = reading.read_trace
    monkeypatch.setattr(reading, "READER_VERSION", "later")
    monkeypatch.setattr(reading, "read_trace", lambda *a, **b: _as_version(original(*a, **b), "later"))
    waiting.refresh_from_db()

    later = analyse_again(trace=waiting)

    assert [one.version for one in waiting.analyses.order_by("pk")] == [first.version, "later"]
    assert analyse_again(trace=waiting) == later
    assert Trace.objects.filter(pk=waiting.pk).values().get() == before


def test_a_recording_not_read_yet_is_not_read_again(exam, measurer):
    with pytest.raises(ValidationError, match="not been read yet"):
        analyse_again(trace=dropped(exam, measurer))


def test_the_device_s_worker_reads_what_it_sent_and_a_reporter_s_does_not(waiting, gateway, reporter):
    with pytest.raises(PermissionDenied):
        analyse(trace=waiting, by=reporter)

    assert analyse(trace=waiting, by=gateway).version == READER_VERSION


def _as_version(made: TraceReading, version: str) -> TraceReading:
    return TraceReading.from_json({**made.to_json(), "version": version})


def test_what_is_odd_about_a_file_is_told_in_the_list(exam, measurer):
    content = csv_file(*toe_samples()) + b"\n99.0,word,0.1"
    trace = receive_file(exam=exam, name="R.csv", content=content, by=measurer)
    match_trace(trace=trace, **HALLUX, by=measurer)

    analyse(trace=trace, by=measurer)

    (line,) = traces_of(measurer, exam)
    assert line.words == "waits for a reader. Cells with words instead of numbers, counted as missing: 1."
