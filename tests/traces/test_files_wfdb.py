"""WFDB recordings by header(5) and signal(5): frames, skew, missing samples, checksums."""

import numpy as np
import pytest

from exams.traces import files
from exams.traces.files import FileKind, TraceFileError

CUFF = (200 - 2 * np.arange(60)).astype("<i2")
PULP = np.arange(100, 160).astype("<i2")


def joined(header, **signals):
    dropped = [
        ("rec.hea", header.encode()),
        *((f"{name}.dat", content) for name, content in signals.items()),
    ]
    ((_, content),) = files.put_together(dropped)
    return content


def two(record="rec 2 10 60", cuff="16 1/mmHg 16 0 0 0 0 Cuff", pulp="16 1/NU 16 0 0 0 0 PPG"):
    stored = np.stack([CUFF, PULP], axis=1).tobytes()
    return joined(f"{record}\nrec.dat {cuff}\nrec.dat {pulp}\n", rec=stored)


def parsed(content):
    return files.parse(files.sniff("rec.hea", content), content, None)


def test_a_signal_with_several_samples_a_frame_keeps_its_own_clock():
    frames = np.concatenate([CUFF[:, None], np.arange(240).reshape(60, 4)], axis=1).astype("<i2")
    header = "rec 2 10 60\nrec.dat 16 1/mmHg 16 0 0 0 0 Cuff\nrec.dat 16x4 1/NU 16 0 0 0 0 PPG\n"

    read = parsed(joined(header, rec=frames.tobytes()))

    assert np.allclose(np.diff(read.time_s), 1 / 40)
    assert read.signal[:5].tolist() == [0, 1, 2, 3, 4]
    assert read.cuff_mmhg[:3].tolist() == [200, 199.5, 199]


def test_a_skewed_signal_is_put_back_in_step():
    read = parsed(two(pulp="16:3 1/NU 16 0 0 0 0 PPG"))

    assert read.signal[0] == PULP[3]
    assert np.isnan(read.signal[-3:]).all()


def test_gain_and_baseline_make_the_pressure():
    assert parsed(two(cuff="16 2(100)/mmHg 16 0 0 0 0 Cuff")).cuff_mmhg[:2].tolist() == [50, 49]


def test_the_stored_sign_for_no_sample_is_a_missing_sample():
    header = "rec 2 10 3\nrec.dat 80 1/mmHg 8 0 0 0 0 Cuff\nrec.dat 80 1/NU 8 0 0 0 0 PPG\n"

    read = parsed(joined(header, rec=bytes([228, 129, 218, 0, 208, 131])))

    assert read.cuff_mmhg.tolist() == [100, 90, 80]
    assert np.array_equal(read.signal, [1, np.nan, 3], equal_nan=True)


@pytest.mark.parametrize(("checksum", "warned"), [(int(CUFF.sum()), False), (77, True), (0, False)])
def test_a_checksum_that_does_not_agree_is_said(checksum, warned):
    assert bool(parsed(two(cuff=f"16 1/mmHg 16 0 0 {checksum} 0 Cuff")).warnings) is warned


def test_a_header_that_claims_a_thousand_million_samples_is_refused():
    with pytest.raises(TraceFileError) as refused:
        files.preview(FileKind.WFDB, two(record="rec 2 10 1000000000"))

    assert refused.value.code == "too_many_samples"


def test_what_a_broken_off_recording_holds_is_read_and_said():
    read = parsed(two(record="rec 2 10 90"))

    assert read.signal.size == 60
    assert read.warnings


def test_signals_in_files_of_their_own_are_joined_and_what_belongs_to_nobody_stays():
    header = "rec 2 10 60\na.dat 16 1/mmHg 16 0 0 0 0 Cuff\nb.dat 16 1/NU 16 0 0 0 0 PPG\n"
    dropped = [
        ("A.DAT", CUFF.tobytes()),
        ("other.csv", b"1,2"),
        ("rec.hea", header.encode()),
        ("b.dat", PULP.tobytes()),
    ]

    other, (name, content) = files.put_together(dropped)

    assert (other, name) == (("other.csv", b"1,2"), "rec.hea")
    assert parsed(content).cuff_mmhg[:2].tolist() == [200, 198]


def test_what_is_said_of_the_person_is_not_read_out():
    content = two(pulp="16 1/NU 16 0 0 0 0 PPG\n# Invented Person, born 1950")

    assert "Invented" not in repr(files.preview(FileKind.WFDB, content))
