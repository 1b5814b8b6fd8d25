"""`manage.py read_traces`: a folder in, one line a file out; the stored recordings read again."""

import json
import os
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from exams.hemodynamics import READER_VERSION
from exams.traces.many_files import recordings_in
from exams.traces.models import Analysis
from tests.build import ready_exam
from tests.traces.made import read_recording
from tests.traces.recorded import edf, table, wfdb, wfdb_in_segments

KEYS = {
    "file",
    "pressure_mmhg",
    "interval_mmhg",
    "usable",
    "flags",
    "beat_mmhg",
    "deflation_mmhg_per_s",
    "version",
}


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    folder = tmp_path_factory.mktemp("recordings")
    (folder / "below").mkdir()
    (folder / "below" / "a.csv").write_bytes(table())
    (folder / "b.edf").write_bytes(edf())
    (folder / "d.bdf").write_bytes(edf(bits=24))
    for name, content in (*wfdb(), *wfdb_in_segments()):
        (folder / name).write_bytes(content)
    (folder / "c.pdf").write_bytes(b"%PDF-1.7")
    (folder / ".hidden").write_bytes(b"x")
    blank = [line.rpartition(b",")[0] + b"," for line in table().splitlines()[1:]]
    (folder / "e.csv").write_bytes(b"\n".join([b"time_s,cuff_mmhg,ppg", *blank]))
    out = folder.parent / "answers.jsonl"
    call_command("read_traces", str(folder), out=out, stderr=StringIO())
    return [json.loads(line) for line in out.read_text().splitlines()]


def test_every_file_has_one_line_in_the_order_of_the_names(answers):
    assert [one["file"] for one in answers] == [
        "b.edf",
        "below/a.csv",
        "c.pdf",
        "d.bdf",
        "e.csv",
        "rec.hea",
        "whole.hea",
    ]


def test_every_line_has_the_same_keys_and_a_bad_file_says_why(answers):
    assert all(set(one) >= KEYS for one in answers)
    assert [one["file"] for one in answers if "error" in one] == ["c.pdf", "e.csv"]


def test_a_file_without_any_value_of_the_sensor_is_flagged_as_one_that_lost_it(answers):
    (blank,) = [one for one in answers if one["file"] == "e.csv"]

    assert (blank["usable"], blank["flags"]) == (False, ["gap_at_mark", "low_amplitude"])


def test_the_same_recording_reads_alike_from_each_format(answers):
    pressures = [one["pressure_mmhg"] for one in answers if "error" not in one]

    assert all(one["usable"] for one in answers if "error" not in one)
    assert max(pressures) - min(pressures) < 3


def test_a_folder_that_is_not_there_is_said(tmp_path):
    with pytest.raises(CommandError, match="no folder"):
        call_command("read_traces", str(tmp_path / "nowhere"), out=tmp_path / "a.jsonl")


def test_a_file_that_cannot_be_written_leaves_nothing_behind(tmp_path):
    (tmp_path / "in").mkdir()

    with pytest.raises(CommandError, match="cannot be written"):
        call_command("read_traces", str(tmp_path / "in"), out=tmp_path / "missing" / "a.jsonl")


def test_the_signals_of_a_record_have_no_line_of_their_own_whatever_they_are_called(tmp_path):
    (_, header), (_, signals) = wfdb()
    (tmp_path / "REC.HEA").write_bytes(header.replace(b"rec.dat", b"pulp.sig"))
    (tmp_path / "pulp.sig").write_bytes(signals)
    (tmp_path / "table.dat").write_bytes(table())
    (tmp_path / "answers.jsonl").write_bytes(b"{}")

    names = recordings_in(tmp_path, but=tmp_path / "answers.jsonl")

    assert names == ["REC.HEA", "table.dat"]


def test_a_file_whose_name_is_no_text_has_its_line_and_progress_is_told(tmp_path):
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / os.fsdecode(b"caf\xe9.csv")).write_bytes(b"nothing")
    told = StringIO()

    call_command("read_traces", str(folder), out=tmp_path / "a.jsonl", stderr=told)

    (line,) = [json.loads(line) for line in (tmp_path / "a.jsonl").read_text().splitlines()]
    assert os.fsencode(line["file"]) == b"caf\xe9.csv"
    assert line["error"]
    assert "100 %: 1 of 1" in told.getvalue()


@pytest.mark.django_db
def test_a_newer_reader_adds_its_suggestion_and_lists_what_differs(measurer, tmp_path):
    trace = read_recording(measurer, ready_exam(measurer))
    Analysis.objects.filter(trace=trace).update(version="0", pressure_mmhg=Decimal("75.0"))
    out = tmp_path / "differs.jsonl"

    call_command("read_traces", stored=True, out=out, stderr=StringIO())

    (line,) = [json.loads(line) for line in out.read_text().splitlines()]
    assert (line["trace"], line["before"]["pressure_mmhg"]) == (trace.pk, 75.0)
    assert line["now"]["version"] == READER_VERSION
    assert set(trace.analyses.values_list("version", flat=True)) == {"0", READER_VERSION}
