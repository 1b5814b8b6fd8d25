"""python manage.py index_table: columns, codes, errors, and files of every wrong kind."""

import csv
import io
import os
import resource
import tracemalloc

import pytest
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from exams.hemodynamics import FLAGS, load_criteria
from exams.visits.index_table import INPUT_COLUMNS, OUTPUT_COLUMNS, TableError, write_index_table

HEADER = ",".join(INPUT_COLUMNS)
ACC = load_criteria("acc-aha-2024")


@pytest.fixture
def table(tmp_path):
    """table("arm_right,right_dp", "120,110") -> the rows that the command writes."""

    def run(*lines, criteria="acc-aha-2024", encoding="utf-8", end="\n"):
        source, target = tmp_path / "in.csv", tmp_path / "out.csv"
        source.write_bytes(end.join([*lines, ""]).encode(encoding))
        call_command("index_table", str(source), criteria=criteria, out=target, stdout=io.StringIO())
        with target.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return run


def one(rows):
    (row,) = rows
    return row


def test_the_columns_and_codes_are_those_agreed(table):
    row = one(table(HEADER, "a1,right,no,138,,142,,120,128,,98,118,110,,104"))

    assert tuple(row) == OUTPUT_COLUMNS
    assert row == {
        "exam_id": "a1",
        "criteria": "acc-aha-2024",
        "denominator_mmhg": "142",
        "arm_difference_mmhg": "4",
        "right_abi": "0.90",
        "right_abi_band": "ABNORMAL_MILD",
        "right_tbi": "0.69",
        "right_tbi_band": "ABNORMAL",
        "right_toe_band": "WIFI_0",
        "right_ankle_band": "WIFI_0",
        "right_pattern": "PAD_CONCORDANT",
        "right_flags": "",
        "left_abi": "0.83",
        "left_abi_band": "ABNORMAL_MILD",
        "left_tbi": "0.73",
        "left_tbi_band": "NORMAL",
        "left_toe_band": "WIFI_0",
        "left_ankle_band": "WIFI_0",
        "left_pattern": "ABI_ONLY",
        "left_flags": "",
        "error": "",
    }


def test_missing_columns_are_allowed(table):
    row = one(table("arm_left,right_pt", "140,126"))

    assert (row["exam_id"], row["right_abi"], row["left_abi_band"]) == ("", "0.90", "NOT_ASSESSED")
    assert row["right_flags"] == "SINGLE_ARM;ONE_ARTERY"
    assert row["left_flags"] == "SINGLE_ARM"


def test_a_repeat_of_the_first_arm_follows_its_rule(table):
    rows = table(
        "first_arm,arm_right,arm_right_repeat,arm_left",
        "right,158,144,140",
        ",150,140,130",
        "left,158,144,140",
    )

    assert [row["denominator_mmhg"] for row in rows] == ["144", "145", "151"]


def test_words_in_a_pressure_cell_are_understood(table):
    rows = table(
        "arm_right,right_dp,right_pt,right_toe",
        "130,not_occludable,not_occludable,84",
        "130,not_occludable_at_250,not_done,",
        "130,not_occludable_at_150,,",
        "130,not_occludable,96,60",
        "130,no_signal,no_signal,no_signal",
        "130, NO_SIGNAL ,80.5,not_occludable",
    )

    assert [row["right_abi_band"] for row in rows] == [
        "NON_COMPRESSIBLE",
        "NON_COMPRESSIBLE",
        "NOT_ASSESSED",
        "ABNORMAL_MILD",
        "ABNORMAL_SEVERE",
        "ABNORMAL_MODERATE",
    ]
    assert [row["right_abi"] for row in rows] == ["", "", "", "0.74", "", "0.62"]
    assert "MIXED" in rows[3]["right_flags"]
    assert rows[4]["right_flags"].startswith(
        "URGENT_VASCULAR;ABSENT_SIGNAL_DP;ABSENT_SIGNAL_PT;TOE_BELOW_DETECTION"
    )
    assert [row["error"] for row in rows] == [""] * 6


def test_the_diabetes_column_decides_whether_an_ankle_alone_may_reassure(table):
    rows = table("diabetes,arm_right,right_dp", "no,100,110", "yes,100,110", ",100,110")

    assert [row["right_pattern"] for row in rows] == [
        "NORMAL",
        "INCOMPLETE_ADVISE_TBI",
        "INCOMPLETE_ADVISE_TBI",
    ]


def test_a_kidney_column_is_read_where_there_is_one(table):
    rows = table(
        "diabetes,kidney_disease,arm_right,right_dp", "no,no,100,110", "no,yes,100,110", "no,,100,110"
    )

    assert [row["right_pattern"] for row in rows] == [
        "NORMAL",
        "INCOMPLETE_ADVISE_TBI",
        "INCOMPLETE_ADVISE_TBI",
    ]


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("abc", "right_dp: 'abc' is neither a pressure in mmHg nor"),
        ("0", "right_dp: 0 is not a pressure: write no_signal, not_occludable or not_done"),
        ("301", "right_dp: '301' mmHg is not possible here (1 to 300)"),
        ("-80", "right_dp: '-80' is neither"),
        ("80.25", "right_dp: '80.25' is not a whole or half mmHg"),
        ('"80,5"', "right_dp: '80,5' is neither a pressure in mmHg nor not_occludable, not_occludable_at_N, "
                   "no_signal or not_done (a decimal comma?)"),
        ("1e2", "right_dp: '1e2' is neither"),
        ("nan", "right_dp: 'nan' is neither"),
        ("٨٠", "right_dp: '٨٠' is neither"),
        ("not_occludable_at_", "right_dp: '' is neither"),
        ("not_occludable_at_999", "right_dp: '999' mmHg is not possible here"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_named_and_voids_only_what_depends_on_it(table, cell, words):
    row = one(table("arm_right,right_dp,right_pt,right_toe,left_dp,left_pt", f"100,{cell},90,60,95,80"))

    assert row["error"].startswith(words)
    assert (row["right_abi"], row["right_abi_band"], row["right_ankle_band"]) == (
        "",
        "NOT_ASSESSED",
        "NOT_ASSESSED",
    )
    assert (row["right_tbi"], row["right_toe_band"]) == ("0.60", "WIFI_0")
    assert row["left_abi"] == "0.95"


def test_a_bad_arm_voids_every_index_and_no_pressure_band(table):
    row = one(table("arm_right,arm_left,right_dp,right_toe", "1200,140,60,28"))

    assert row["error"] == "arm_right: '1200' mmHg is not possible here (50 to 300)"
    assert (row["denominator_mmhg"], row["arm_difference_mmhg"], row["right_abi"]) == ("", "", "")
    assert (row["right_ankle_band"], row["right_toe_band"]) == ("WIFI_2", "WIFI_3")
    assert "SEVERE_ISCHAEMIA" in row["right_flags"]


def test_an_unreadable_toe_leaves_the_pattern_open(table):
    row = one(table("diabetes,arm_right,right_dp,right_pt,right_toe", "no,100,110,105,2o"))

    assert (row["right_abi_band"], row["right_pattern"]) == ("NORMAL", "NOT_ASSESSED")


def test_an_unknown_first_arm_matters_only_where_an_arm_was_repeated(table):
    rows = table("first_arm,arm_right,arm_right_repeat,right_dp", "top,140,,126", "top,140,150,126")

    assert [row["right_abi"] for row in rows] == ["0.90", ""]
    assert {row["error"] for row in rows} == {"first_arm: 'top' is not right, left or blank"}


def test_every_error_of_a_row_is_named_and_the_other_rows_go_on(table):
    rows = table("exam_id,diabetes,arm_right,right_dp,left_dp", "a,maybe,x,y,90", "b,no,100,90,95")

    assert [part.split(":")[0] for part in rows[0]["error"].split("; ")] == [
        "arm_right",
        "right_dp",
        "diabetes",
    ]
    assert (rows[1]["right_abi"], rows[1]["error"]) == ("0.90", "")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("a,100", "row: 2 cells where the first line names 3"),
        ("a,100,90,1", "row: 4 cells where the first line names 3"),
    ],
)
def test_a_row_of_the_wrong_length_is_void_and_does_not_stop_the_rest(table, line, words):
    rows = table("exam_id,arm_right,right_dp", line, "b,100,90")

    assert (rows[0]["error"], rows[0]["right_abi"]) == (words, "")
    assert rows[1]["right_abi"] == "0.90"


def test_a_quote_left_open_spoils_its_own_row_only(table):
    rows = table("exam_id,arm_right,right_dp", 'a,"100,90', "b,100,90", 'c,"100",91')

    assert rows[0]["error"].startswith("row: cannot be read as CSV")
    assert [row["right_abi"] for row in rows] == ["", "0.90", "0.91"]


def test_a_byte_that_is_not_utf8_spoils_its_own_cell_only(tmp_path):
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_bytes(b"exam_id,arm_right,right_dp\na\xe9,100,90\nb,100,\xff90\nc,100,91\n")

    write_index_table(source, target, ACC)

    rows = list(csv.DictReader(target.read_text(encoding="utf-8").splitlines()))
    assert [(row["exam_id"], row["right_abi"]) for row in rows] == [("a�", "0.90"), ("b", ""), ("c", "0.91")]
    assert rows[0]["error"].startswith("exam_id: not UTF-8 text")
    assert rows[1]["error"].startswith("right_dp: '�90' is neither a pressure")
    assert rows[2]["error"] == ""


def test_a_line_without_an_end_is_cut_named_and_passed_over(table):
    rows = table("exam_id,arm_right,right_dp", "x" * 200_000, "b,100,90")

    assert [row["error"] for row in rows] == ["row: longer than 65536 characters", ""]
    assert rows[1]["right_abi"] == "0.90"


def test_a_spreadsheet_never_runs_an_identifier(table):
    names = ["=1+1", "+1", "-1", "@a", "  =1", '"\t=1"', "plain-1"]

    rows = table("exam_id,arm_right,right_dp", *(f"{name},100,90" for name in names))

    assert [row["exam_id"] for row in rows] == ["'=1+1", "'+1", "'-1", "'@a", "'  =1", "'\t=1", "plain-1"]


def test_a_byte_order_mark_windows_line_ends_quotes_and_blank_lines_are_read(table):
    rows = table(
        '"exam_id", Arm_Right ,right_dp',
        '"a, ""b""","100","90"',
        "",
        "é,100,91",
        encoding="utf-8-sig",
        end="\r\n",
    )

    assert [(row["exam_id"], row["right_abi"]) for row in rows] == [('a, "b"', "0.90"), ("é", "0.91")]


def test_flags_stand_in_their_fixed_order(table):
    row = one(table("arm_right,arm_left,right_dp,right_pt,right_toe", "100,120,70,no_signal,25"))

    flags = row["right_flags"].split(";")
    assert flags == [flag for flag in FLAGS if flag in flags]
    assert flags == ["SEVERE_ISCHAEMIA", "ABSENT_SIGNAL_PT", "IAD_20", "BOUNDARY"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty: the first line must name the columns"),
        (b"exam_id,right_dp,right_dp\na,1,2\n", "Column named twice: right_dp"),
        (b"exam_id,right_dpp,right_dp\na,1,2\n", r"Unknown column: right_dpp \(did you mean right_dp\?\)"),
        (b"exam_id;right_dp\na;1\n", "has no pressure column"),
        (b"\xff\xfee\x00x\x00a\x00m\x00", "is not UTF-8 text"),
        (b"\x00\x00\n", "has no pressure column"),
        (b'"right_dp\n90\n', "names no columns"),
    ],
)
def test_a_file_that_is_no_such_table_is_refused_and_nothing_is_written(tmp_path, content, words):
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_bytes(content)

    with pytest.raises(CommandError, match=words):
        call_command("index_table", str(source), criteria="acc-aha-2024", out=target)

    assert [path.name for path in tmp_path.iterdir()] == ["in.csv"]


def test_a_column_of_another_name_is_not_read_and_is_named(tmp_path, capsys):
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_text("exam_id,age_years,arm_right,right_dp\na,71,140,126\n")

    call_command("index_table", str(source), criteria="acc-aha-2024", out=target)

    assert "none of ours were not read: age_years." in capsys.readouterr().out
    assert "0.90" in target.read_text()


def test_unknown_criteria_missing_files_and_an_output_over_the_input_are_refused(tmp_path):
    source = tmp_path / "in.csv"
    source.write_text("right_dp\n90\n")

    with pytest.raises(CommandError, match=r"no criteria named 'nobody'\. There are: acc-aha-2024"):
        call_command("index_table", str(source), criteria="nobody", out=tmp_path / "out.csv")
    with pytest.raises(CommandError, match=r"none\.csv cannot be read: No such file"):
        call_command(
            "index_table", str(tmp_path / "none.csv"), criteria="acc-aha-2024", out=tmp_path / "out.csv"
        )
    with pytest.raises(CommandError, match=r"none.out\.csv cannot be written: No such file"):
        call_command("index_table", str(source), criteria="acc-aha-2024", out=tmp_path / "none" / "out.csv")
    with pytest.raises(CommandError, match="would overwrite the input"):
        call_command("index_table", str(source), criteria="acc-aha-2024", out=source)

    assert source.read_text() == "right_dp\n90\n"


def test_an_older_output_is_replaced_only_by_a_whole_one(tmp_path):
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    target.write_text("older")
    source.write_text("arm_right,right_dp\n" + "100,90\n" * 2_000)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)

    # No file may grow past 20 kB: writing fails in the middle, as on a full disc.
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        with pytest.raises(TableError, match=r"cannot be written: File too large\. Nothing was written"):
            write_index_table(source, target, ACC)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

    assert target.read_text() == "older"


def test_the_help_names_every_column(capsys):
    with pytest.raises(SystemExit):
        call_command("index_table", "--help")

    told = capsys.readouterr().out
    assert all(
        column in told for column in (*INPUT_COLUMNS, *OUTPUT_COLUMNS, "right_pt_repeat", "kidney_disease")
    )


def test_memory_stays_flat_over_a_long_table(tmp_path):
    """Three times the rows may not take even a fifth more."""

    def peak(rows):
        source = tmp_path / f"{rows}.csv"
        with source.open("w", encoding="utf-8") as file:
            file.write("exam_id,arm_right,right_dp,right_toe\n")
            file.writelines(
                f"{row},{100 + row % 97},{80 + row % 89},{20 + row % 61}\n" for row in range(rows)
            )
        tracemalloc.start()
        write_index_table(source, tmp_path / "out.csv", ACC)
        highest = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return highest

    first = peak(9_000)

    assert peak(27_000) < 1.2 * first


cells = st.one_of(
    st.sampled_from(
        ["", "120", "119.5", "not_done", "no_signal", "not_occludable", "not_occludable_at_200", "0"]
    ),
    st.integers(-10, 400).map(str),
    st.text(max_size=12),
)


@given(
    st.lists(st.lists(cells, max_size=17), max_size=12), st.permutations(INPUT_COLUMNS), st.integers(4, 15)
)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_content_of_a_cell_stops_the_table(tmp_path, rows, columns, width):
    source, target = tmp_path / f"{os.getpid()}.csv", tmp_path / "out.csv"
    with source.open("w", encoding="utf-8", newline="", errors="replace") as file:
        writer = csv.writer(file)
        writer.writerow(columns[:width])
        writer.writerows(rows)

    pressures = {*columns[:width]} - {"exam_id", "first_arm", "diabetes"}
    if not pressures:
        with pytest.raises(TableError, match="no pressure column"):
            write_index_table(source, target, ACC)
        return
    summary = write_index_table(source, target, ACC)

    with target.open(encoding="utf-8", newline="") as file:
        written = list(csv.DictReader(file))
    assert len(written) == summary.rows
    assert all(None not in row and None not in row.values() for row in written)


@given(st.binary(max_size=300))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_under_the_first_line_are_read_row_by_row(tmp_path, content):
    source = tmp_path / "in.csv"
    source.write_bytes(b"exam_id,arm_right,right_dp\n" + content)

    write_index_table(source, tmp_path / "out.csv", ACC)

    (tmp_path / "out.csv").read_bytes().decode("utf-8")
