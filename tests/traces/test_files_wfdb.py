"""WFDB recordings by header(5) and signal(5): frames, skew, missing samples, checksums."""

import numpy as np
import pytest

from exams.traces import files
from exams.traces.files import FileKind, TraceFileError
from tests.traces.recorded import in_format

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


SMALL = np.stack([200 - np.arange(60), np.arange(-30, 30)], axis=1)


@pytest.mark.parametrize("form", ["160", "310", "311"])
def test_the_older_formats_are_read_by_their_published_description(form):
    lines = [f"rec.dat {form} 1/mmHg 16 0 0 0 0 Cuff", f"rec.dat {form} 1/NU 16 0 0 0 0 PPG"]

    read = parsed(joined("\n".join(["rec 2 10 60", *lines]), rec=in_format(form, SMALL)))

    assert read.cuff_mmhg.tolist() == SMALL[:, 0].tolist()
    assert read.signal.tolist() == SMALL[:, 1].tolist()


def test_differences_are_counted_from_the_value_the_header_gives():
    steps = np.stack([np.full(60, -2), np.full(60, 3)], axis=1).astype("i1").tobytes()
    lines = "rec.dat 8 1/mmHg 16 0 202 0 0 Cuff\nrec.dat 8 1/NU 16 0 -3 0 0 PPG\n"

    read = parsed(joined(f"rec 2 10 60\n{lines}", rec=steps))

    assert read.cuff_mmhg[:3].tolist() == [200, 198, 196]
    assert read.signal[:3].tolist() == [0, 3, 6]


@pytest.mark.parametrize(("form", "says"), [("516", "compressed"), ("77", "format 77")])
def test_signals_in_a_way_that_is_not_read_are_refused_with_what_to_do(form, says):
    header = f"rec 2 10 60\nrec.dat {form} 1/mmHg\nrec.dat {form} 1/NU\n".encode()

    with pytest.raises(TraceFileError) as refused:
        files.sniff("rec.hea", header)

    assert says in refused.value.words
    assert "Export it as EDF+ or CSV" in refused.value.words


def segment(name, begins, frames, unit="mmHg", hz=10):
    lines = [f"{name}.dat 16 1/{unit} 16 0 0 0 0 Cuff", f"{name}.dat 16 1/NU 16 0 0 0 0 PPG"]
    header = "\n".join([f"{name} 2 {hz} {frames}", *lines])
    stored = np.stack([CUFF, PULP], axis=1)[begins : begins + frames]
    return [(f"{name}.hea", header.encode()), (f"{name}.dat", stored.tobytes())]


def test_segments_of_one_recording_follow_each_other_and_a_pause_is_missing():
    main = ("rec.hea", b"rec/3 2 10 50\na 20\n~ 10\nb 20\n")
    dropped = [*segment("b", 30, 20), main, *segment("a", 0, 20)]

    ((name, content),) = files.put_together(dropped)
    read = parsed(content)

    assert name == "rec.hea"
    assert read.cuff_mmhg[:20].tolist() == CUFF[:20].tolist()
    assert np.isnan(read.cuff_mmhg[20:30]).all()
    assert read.signal[30:].tolist() == PULP[30:50].tolist()


def test_a_segment_without_the_cuff_leaves_the_cuff_missing_where_the_first_one_names_all_signals():
    layout = b"all 2 10 0\n~ 0 1/mmHg 16 0 0 0 0 Cuff\n~ 0 1/NU 16 0 0 0 0 PPG\n"
    alone = b"b 1 10 20\nb.dat 16 1/NU 16 0 0 0 0 PPG\n"
    dropped = [
        ("rec.hea", b"rec/3 2 10 40\nall 0\na 20\nb 20\n"),
        ("all.hea", layout),
        *segment("a", 0, 20),
        ("b.hea", alone),
        ("b.dat", PULP[20:40].tobytes()),
    ]

    ((_, content),) = files.put_together(dropped)
    read = parsed(content)

    assert read.signal.tolist() == PULP[:40].tolist()
    assert read.cuff_mmhg[:20].tolist() == CUFF[:20].tolist()
    assert np.isnan(read.cuff_mmhg[20:]).all()


def test_a_recording_without_one_of_its_segments_is_refused_with_what_to_drop():
    main = ("rec.hea", b"rec/2 2 10 40\na 20\nb 20\n")

    left = files.put_together([main, *segment("a", 0, 20)])

    assert main in left
    with pytest.raises(TraceFileError) as refused:
        files.sniff(*main)
    assert refused.value.code == "half"
    assert "every segment" in refused.value.words


@pytest.mark.parametrize("other", [{"hz": 20}, {"unit": "kPa"}])
def test_segments_that_do_not_fit_together_are_refused(other):
    main = ("rec.hea", b"rec/2 2 10 40\na 20\nb 20\n")
    ((_, content),) = files.put_together([main, *segment("a", 0, 20), *segment("b", 20, 20, **other)])

    with pytest.raises(TraceFileError) as refused:
        parsed(content)

    assert "do not fit together" in refused.value.words


def test_segments_of_segments_are_refused():
    main, inner = b"rec/1 2 10 40\na 40\n", b"a/1 2 10 40\nb 40\n"
    ((_, content), *_) = files.put_together([("rec.hea", main), ("a.hea", inner), *segment("b", 0, 40)])[::-1]

    with pytest.raises(TraceFileError) as refused:
        parsed(content)

    assert "do not fit together" in refused.value.words
