"""EDF and EDF+: rates, pauses, remarks, and who was recorded."""

import io

import numpy as np
import pytest
from edfio import Bdf, BdfSignal, Edf, EdfAnnotation, EdfSignal, Patient, Recording

from exams.traces import files
from exams.traces.files import FileKind, TraceFileError
from tests.traces.recorded import TRACE, edf


def recording(*, cuff_hz=10, seconds=60, cuff_unit="mmHg", notes=None):
    cuff = EdfSignal(
        200 - 3 * np.arange(0, seconds, 1 / cuff_hz),
        cuff_hz,
        label="Cuff",
        physical_dimension=cuff_unit,
        physical_range=(-100, 300),
    )
    pulp = EdfSignal(np.sin(np.arange(0, seconds, 0.01)), 100, label="PPG", physical_dimension="V")
    made = Edf(
        [cuff, pulp],
        patient=Patient(name="Invented_Person", code="12345"),
        recording=Recording(hospital_administration_code="A77"),
        annotations=notes,
        data_record_duration=1,
    )
    file = io.BytesIO()
    made.write(file)
    return file.getvalue()


def parsed(content):
    return files.parse(files.sniff("a.edf", content), content, None)


def test_a_slowly_sampled_cuff_stands_at_every_sample_of_the_signal():
    read = parsed(recording(cuff_hz=10))

    # After the cuff's last sample nothing is known of it.
    known = read.time_s <= 59.9
    assert np.isfinite(read.cuff_mmhg[known]).all()
    assert np.allclose(read.cuff_mmhg[known], 200 - 3 * read.time_s[known], atol=0.01)


def test_a_pause_of_the_recording_is_missing_not_skipped():
    content = recording(notes=[]).replace(b"EDF+C", b"EDF+D")
    # The records from the 30th second on were taken ten seconds later.
    for second in reversed(range(30, 60)):
        content = content.replace(b"+%d\x14\x14\x00" % second, b"+%d\x14\x14\x00" % (second + 10))

    read = parsed(content)

    pause = (read.time_s > 29.995) & (read.time_s < 39.995)
    assert read.time_s[-1] == pytest.approx(69.99)
    assert np.allclose(np.diff(read.time_s), 0.01)
    assert np.isnan(read.signal[pause]).all()
    assert np.isfinite(read.signal[~pause]).all()


def test_remarks_are_shown_and_nobody_is_named():
    content = recording(notes=[EdfAnnotation(12.5, None, "cuff let down")])

    preview = files.preview(FileKind.EDF, content)

    assert [(note.time_s, note.text) for note in preview.annotations] == [(12.5, "cuff let down")]
    assert preview.exact
    assert not any(private in repr(preview) for private in ("Invented", "12345", "A77"))


def test_a_cuff_in_kilopascal_becomes_mmhg():
    assert np.nanmax(parsed(recording(cuff_unit="kPa")).cuff_mmhg) == pytest.approx(1500.12, abs=0.1)


def test_what_a_broken_off_recording_holds_is_read_and_said():
    content = recording()

    read = parsed(content[: -len(content) // 3])

    assert 30 < read.time_s[-1] < 50
    assert read.warnings


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        (slice(252, 256), b"9999", "too_many_channels"),
        (slice(244, 252), b"60      ", "duration"),
        (slice(244, 252), b"nan     ", "broken"),
        (slice(184, 192), b"99999999", "broken"),
        (slice(688, 696), b"99999999", "broken"),
    ],
)
def test_a_header_that_claims_what_cannot_be_is_refused_before_anything_is_read(field, value, code):
    content = bytearray(edf())
    content[field] = value

    with pytest.raises(TraceFileError) as refused:
        files.parse(FileKind.EDF, bytes(content), None)

    assert refused.value.code == code


def test_the_simulated_recording_comes_back():
    read = parsed(edf())

    assert np.allclose(read.signal, TRACE.signal[: read.signal.size], atol=np.ptp(TRACE.signal) / 1000)


def bdf(**changed):
    """The same in 24 bits, as the library writes it."""
    cuff = BdfSignal(
        200 - 3 * np.arange(0, 60, 0.1),
        10,
        label="Cuff",
        physical_dimension="mmHg",
        physical_range=(-100, 300),
    )
    pulp = BdfSignal(np.sin(np.arange(0, 60, 0.01)), 100, label="PPG", physical_dimension="V")
    file = io.BytesIO()
    Bdf([cuff, pulp], data_record_duration=1, **changed).write(file)
    return file.getvalue()


def test_samples_of_24_bits_are_read_as_finely_as_they_were_stored():
    read = parsed(bdf())

    assert np.allclose(read.signal, np.sin(np.arange(0, 60, 0.01)), atol=1e-6)
    assert read.cuff_mmhg[:2].tolist() == pytest.approx([200, 199.97], abs=1e-3)


def test_remarks_in_24_bits_are_shown():
    preview = files.preview(FileKind.EDF, bdf(annotations=[EdfAnnotation(12.5, None, "cuff let down")]))

    assert [(note.time_s, note.text) for note in preview.annotations] == [(12.5, "cuff let down")]


def test_a_recording_in_24_bits_that_broke_off_is_read_as_far_as_it_goes():
    content = bdf()

    read = parsed(content[: -len(content) // 3])

    assert 30 < read.time_s[-1] < 50
    assert read.warnings
