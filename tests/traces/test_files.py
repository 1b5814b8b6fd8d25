"""Files of recordings: what they are, what is asked about them, and the one exception on any bytes."""

from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exams.hemodynamics import read_trace
from exams.traces import files
from exams.traces.files import CuffUnit, FileKind, TimeUnit, TraceFileError
from exams.traces.files.apart import parse_safely, run_apart
from tests.traces.recorded import TRACE, edf, table, wfdb, wfdb_in_segments


def test_the_standard_header_needs_no_question():
    preview = files.preview(FileKind.CSV, table())

    assert (preview.exact, preview.questions) == (True, ())


@pytest.mark.parametrize(
    ("header", "layout"),
    [
        ("time_s;cuff_mmhg;ppg", {"separator": ";", "comma": True}),
        ("time_s\tcuff_mmhg\tppg", {"separator": "\t"}),
        ("t (s)|Cuff pressure (mmHg)|PPG (V)", {"separator": "|"}),
        ("Time [ms],Cuff [mmHg],Pulse [V]", {"time": 1000.0}),
        ("time (s),cuff (kPa),ppg", {"cuff": 1 / 7.50062}),
    ],
)
def test_separators_decimal_commas_and_units_are_recognised(header, layout):
    read = files.parse(FileKind.CSV, table(header, **layout), None)

    assert np.allclose(read.time_s, TRACE.time_s, atol=0.01)
    assert np.allclose(read.cuff_mmhg, TRACE.cuff_mmhg, atol=0.05)


def test_a_cuff_without_a_unit_is_asked_about():
    preview = files.preview(FileKind.CSV, table("time,cuff,signal", cuff=1 / 7.50062))

    assert preview.questions
    assert not preview.exact


def test_what_a_person_confirmed_is_used():
    columns = files.Columns(
        cuff=1, signal=2, time=0, time_unit=TimeUnit.SECONDS, cuff_unit=CuffUnit.KPA, separator=","
    )

    read = files.parse(FileKind.CSV, table("a,b,c", cuff=1 / 7.50062), columns)

    assert np.allclose(read.cuff_mmhg, TRACE.cuff_mmhg, atol=0.05)


def test_edf_brings_the_cuff_onto_the_sensors_clock():
    content = edf()

    read = files.parse(files.sniff("a.edf", content), content, None)

    assert len(read.time_s) == len(read.cuff_mmhg) == len(read.signal)
    assert read_trace(read.time_s, read.cuff_mmhg, read.signal).mark.pressure_mmhg == pytest.approx(90, abs=7)


@pytest.mark.parametrize("form", ["16", "61", "212", "24", "32"])
def test_wfdb_is_read_in_each_published_format_of_integers(form):
    ((_, content),) = files.put_together(wfdb(form))

    read = files.parse(files.sniff("rec.hea", content), content, None)

    assert np.allclose(read.cuff_mmhg, TRACE.cuff_mmhg, atol=0.1)


def test_both_halves_of_a_wfdb_record_are_needed():
    header, signals = wfdb()

    assert files.put_together([header]) == [header]
    for name, content in (header, signals):
        with pytest.raises(TraceFileError) as refused:
            files.sniff(name, content)
        assert refused.value.code == "half"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty"),
        (b"%PDF-1.7", "not_a_trace"),
        (b"PK\x03\x04" + b"x" * 60, "not_a_trace"),
        (b"\x89PNG" + b"x" * 60, "not_a_trace"),
        (b"<html><body>", "not_a_trace"),
        (b"a" * (files.MOST_BYTES + 1), "too_big"),
    ],
)
def test_what_is_no_recording_is_told_apart_in_words(content, code):
    with pytest.raises(TraceFileError) as refused:
        files.sniff("recording.csv", content)

    assert refused.value.code == code
    assert refused.value.words


def test_a_recording_longer_than_half_an_hour_is_refused():
    lines = "\n".join(f"{second},80,1" for second in range(0, 4000, 10))

    with pytest.raises(TraceFileError) as refused:
        files.parse(FileKind.CSV, f"time_s,cuff_mmhg,ppg\n{lines}".encode(), None)

    assert refused.value.code == "duration"


GOOD = [
    (FileKind.CSV, table()),
    (FileKind.EDF, edf()),
    (FileKind.EDF, edf(bits=24)),
    (FileKind.WFDB, files.put_together(wfdb())[0][1]),
    (FileKind.WFDB, files.put_together(wfdb_in_segments())[0][1]),
]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(GOOD), st.data())
def test_spoilt_bytes_give_a_recording_or_the_one_exception(good, data):
    kind, content = good[0], bytearray(good[1][: data.draw(st.integers(1, len(good[1])))])
    for _ in range(data.draw(st.integers(0, 6))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))

    # Anything else that is raised fails the test.
    with suppress(TraceFileError):
        files.sniff("a.csv", bytes(content))
    with suppress(TraceFileError):
        files.preview(kind, bytes(content))
    with suppress(TraceFileError):
        files.parse(kind, bytes(content), None)


def test_the_process_apart_gives_the_same_recording():
    here, apart = files.parse(FileKind.CSV, table(), None), parse_safely(FileKind.CSV, table(), None)

    assert np.array_equal(here.signal, apart.signal)


def refusal(work):
    with pytest.raises(TraceFileError) as refused:
        work()
    return refused.value.code


def test_the_process_apart_is_killed_when_it_hangs_whatever_it_does_against_it():
    hangs = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN)\nwhile True: pass"

    assert refusal(lambda: run_apart(["-c", hangs], b"", seconds=0.2)) == "too_long"


@pytest.mark.parametrize(
    ("does", "code"),
    [
        ("b'x' * 2**31", "too_big"),
        ("import tempfile; file = tempfile.TemporaryFile(); file.write(b'x'); file.flush()", "too_big"),
        ("import os; os.abort()", "too_big"),
    ],
)
def test_the_process_apart_may_not_swell_or_write_and_may_crash(does, code):
    confined = f"from exams.traces.files.apart import confine; confine(memory_mb=512, seconds=5); {does}"

    assert refusal(lambda: run_apart(["-c", confined], b"", seconds=10)) == code


def test_the_process_apart_knows_no_secret_of_the_service(monkeypatch):
    monkeypatch.setenv("INVENTED_SECRET", "hush")

    assert b"hush" not in run_apart(["-c", "import os; print(os.environ)"], b"", seconds=10)


def test_a_file_that_needs_more_than_its_memory_is_refused_in_words():
    assert refusal(lambda: parse_safely(FileKind.CSV, table(), None, memory_mb=16)) == "too_big"
