"""Text tables as recorders and spreadsheets write them: letters, preambles, clocks, missing cells."""

import numpy as np
import pytest

from exams.traces import files
from exams.traces.files import Columns, CuffUnit, FileKind, Role, TimeUnit, TraceFileError

ROWS = [(n / 50, 180 - 0.7 * n, np.sin(n)) for n in range(200)]


def lines(separator=",", decimal=".", quote=""):
    return [separator.join(f"{quote}{cell:.4f}{quote}".replace(".", decimal) for cell in row) for row in ROWS]


def parsed(text, columns=None):
    content = text if isinstance(text, bytes) else text.encode()
    return files.parse(files.sniff("a.txt", content), content, columns)


def is_whole(read):
    return np.allclose(np.stack([read.time_s, read.cuff_mmhg, read.signal]).T, ROWS, atol=1e-3)


@pytest.mark.parametrize("letters", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_every_usual_encoding_is_read(letters):
    text = "\r\n".join(["Zeit (s);Manschette (mmHg);Lichtfühler µ", *lines(";", ",")])

    assert is_whole(parsed(text.encode(letters)))


def test_cells_in_quotes_with_decimal_commas_are_numbers():
    assert is_whole(parsed("\n".join(['"t (s)","cuff (mmHg)","ppg"', *lines(",", ",", '"')])))


def test_columns_parted_by_blanks_are_read():
    assert is_whole(parsed("\n".join(["time_s  cuff_mmhg  ppg", *lines("   ")])))


def test_a_preamble_is_passed_over_and_never_shown():
    before = ["Recorder 7", "Name;Invented Person", "Limits;20;300", "# remark", ""]
    content = "\n".join([*before, "Time;Cuff;PPG", "(s);(mmHg);(V)", *lines(";")]).encode()

    preview = files.preview(FileKind.CSV, content)

    assert [(one.name, one.unit, one.role) for one in preview.columns] == [
        ("Time", "s", Role.TIME),
        ("Cuff", "mmHg", Role.CUFF),
        ("PPG", "V", Role.SIGNAL),
    ]
    assert preview.questions == ()
    assert preview.sampling_hz == pytest.approx(50)
    assert "Invented" not in repr(preview)


def test_without_a_header_it_is_asked_what_each_column_is():
    preview = files.preview(FileKind.CSV, "\n".join(lines()).encode())

    assert preview.suggested == Columns(time=0, cuff=1, signal=2)
    assert preview.questions == ("Is column 1 the time?", "Is column 2 the cuff pressure?")
    with pytest.raises(TraceFileError) as refused:
        parsed("\n".join(lines()))
    assert refused.value.code == "columns_unclear"


def test_without_a_time_the_clock_is_made_from_the_sampling_rate():
    text = "\n".join(["cuff (mmHg),ppg", *(line.split(",", 1)[1] for line in lines())])

    assert is_whole(parsed(text, Columns(cuff=0, signal=1, sampling_hz=50)))


def test_times_of_day_become_seconds_and_pass_midnight():
    rows = ["clock;cuff (mmHg);ppg", "23:59:59.50;100;1", "23:59:59.75;99;2", "00:00:00.00;98;3"]

    assert parsed("\n".join(rows)).time_s.tolist() == [0, 0.25, 0.5]


@pytest.mark.parametrize("gap", ["", "NaN", "--", "n/a", "lead off", "inf"])
def test_a_missing_cell_is_missing_and_takes_nothing_with_it(gap):
    rows = ["time_s,cuff_mmhg,ppg", *lines()]
    rows[5] = f"0.08,{gap},0.5"

    read = parsed("\n".join(rows))

    assert np.flatnonzero(np.isnan(read.cuff_mmhg)).tolist() == [4]
    assert np.isfinite(read.signal).all()


def test_an_uneven_clock_is_kept_and_a_jump_back_is_said():
    rows = ["time_s,cuff_mmhg,ppg", "0,100,1", "0.013,99,2", "0.05,98,3", "0.04,97,4"]

    read = parsed("\n".join(rows))

    assert read.time_s.tolist() == [0, 0.013, 0.04, 0.05]
    assert read.signal.tolist() == [1, 2, 4, 3]
    assert "jumps back" in read.warnings[0]


@pytest.mark.parametrize(
    "chosen", [{"cuff": 1, "signal": 1}, {"cuff": 1, "signal": 9}, {"cuff": -1, "signal": 2}]
)
def test_columns_that_are_not_there_are_refused(chosen):
    with pytest.raises(TraceFileError) as refused:
        parsed("\n".join(lines()), Columns(time=0, **chosen))

    assert refused.value.code == "columns_wrong"


def test_what_was_confirmed_can_be_kept_and_taken_up_again():
    columns = Columns(
        cuff=3,
        signal=1,
        time=0,
        time_unit=TimeUnit.CLOCK,
        cuff_unit=CuffUnit.KPA,
        separator="\t",
        decimal_comma=True,
    )

    assert Columns.from_json(columns.to_json()) == columns


@pytest.mark.parametrize(
    "kept", [{}, [], {"cuff": "x"}, {**Columns(cuff=0, signal=1).to_json(), "time_unit": "h"}]
)
def test_what_is_no_description_of_columns_is_refused(kept):
    with pytest.raises(TraceFileError):
        Columns.from_json(kept)


def test_more_columns_or_rows_than_are_read_are_refused_before_they_are_read():
    wide = "\n".join(",".join("1" * 70) for _ in range(30))
    long = "time_s,cuff_mmhg,ppg\n" + "0,1,2\n" * (files.MOST_SAMPLES + 1)

    codes = []
    for text in (wide, long):
        with pytest.raises(TraceFileError) as refused:
            parsed(text)
        codes.append(refused.value.code)

    assert codes == ["too_many_channels", "too_many_samples"]
