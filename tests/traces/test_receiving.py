"""A recording that a person attaches: kept as it came, once, at the site a person confirmed."""

from pathlib import Path

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.files.storage import default_storage

from access.models import TrailRow
from access.permissions import NotHere
from exams.traces.files import Columns
from exams.traces.models import Trace
from exams.traces.queries.exam import trace_for, traces_of
from exams.traces.services.receiving import (
    clean_name,
    confirm_columns,
    match_trace,
    open_original,
    receive_file,
    withdraw_trace,
)
from tests.build import booked_exam, exam_with, new_patient, ready_exam
from tests.patients.make import fact
from tests.traces.walk import csv_file

HALLUX = {"side": "right", "site": "toe_1", "attempt": 1, "technique": "two_cuffs"}
SHORT = csv_file(np.arange(100) / 50, np.linspace(140.0, 130.0, 100), np.zeros(100))


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture(autouse=True)
def _a_folder_of_its_own(settings, tmp_path):
    """Every test's clinic has the same number, so all would count the files of one folder."""
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def dropped(exam, measurer) -> Trace:
    return receive_file(exam=exam, name="R_hallux.csv", content=SHORT, by=measurer)


def stored_files(exam) -> set[str]:
    folder = f"traces/{exam.clinic_id}"
    return set(default_storage.listdir(folder)[1]) if default_storage.exists(folder) else set()


def other_file(number: int) -> bytes:
    return SHORT + b"\n2.0,129.0,0.%d" % number


def test_a_dropped_file_is_kept_byte_for_byte_and_waits_for_its_site(dropped, measurer):
    assert open_original(trace=dropped, by=measurer) == SHORT
    assert (dropped.state, dropped.site, dropped.format) == ("arrived", "", "csv")
    assert dropped.original_size == len(SHORT)


def test_the_stored_file_s_name_says_nothing_of_the_dropped_one(exam, measurer):
    trace = receive_file(exam=exam, name="Doe_Jane_R_hallux.csv", content=SHORT, by=measurer)

    assert trace.original.name.startswith(f"traces/{exam.clinic_id}/")
    assert "Doe" not in trace.original.name
    assert "Doe" not in TrailRow.objects.latest("pk").details_json


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        ("R hallux.csv", "R hallux.csv"),
        ("../../etc/R.csv", "R.csv"),
        ("C:\\recordings\\R.csv", "R.csv"),
        ("R\x00\r\n\u202ehallux.csv", "Rhallux.csv"),
        ("a" * 300 + ".csv", "a" * 120),
        ("\x07/", "file without a name"),
    ],
)
def test_a_file_s_name_is_shown_without_path_and_without_what_cannot_be_seen(sent, shown):
    assert clean_name(sent) == shown


def test_the_same_file_again_in_one_exam_is_told_and_not_doubled(exam, dropped, measurer):
    match_trace(trace=dropped, **HALLUX, by=measurer)
    files = stored_files(exam)

    with pytest.raises(ValidationError, match="the same recording already at RIGHT hallux") as refused:
        receive_file(exam=exam, name="again.csv", content=SHORT, by=measurer)

    assert refused.value.code == "already"
    assert Trace.objects.count() == 1
    assert stored_files(exam) == files


def test_a_withdrawn_file_may_be_attached_again(exam, dropped, measurer):
    withdraw_trace(trace=dropped, because="wrong exam", by=measurer)

    assert receive_file(exam=exam, name="R.csv", content=SHORT, by=measurer).pk != dropped.pk


def test_nothing_is_attached_before_it_is_known_who_is_on_the_couch(measurer):
    exam = booked_exam(measurer)
    files = stored_files(exam)

    with pytest.raises(ValidationError, match="Confirm the person's identity first"):
        receive_file(exam=exam, name="R.csv", content=SHORT, by=measurer)

    assert not Trace.objects.exists()
    assert stored_files(exam) == files


def test_a_file_is_attached_to_a_measured_exam_too(measurer):
    measured = {"arm_right": 140, "arm_left": 138, "right_hallux": 90, "left_hallux": 80}
    exam = exam_with(measurer, finish=True, exam_type="toe_only", **measured)

    assert receive_file(exam=exam, name="R.csv", content=SHORT, by=measurer).state == "arrived"


def test_a_file_beyond_the_cap_is_refused_in_words(exam, measurer, monkeypatch):
    monkeypatch.setattr("exams.traces.services.receiving.MOST_BYTES", 100)

    with pytest.raises(ValidationError, match="A file may have 32 MB"):
        receive_file(exam=exam, name="R.csv", content=SHORT, by=measurer)


def test_matched_and_with_known_columns_a_recording_is_read_by_a_job(dropped, measurer):
    trace = match_trace(trace=dropped, **HALLUX, cuff_width_mm=25, by=measurer)

    assert (trace.state, trace.kind, trace.cuff_width_mm) == ("waiting", "refill", 25)
    assert trace.job.kind == "Reading of a trace"
    assert trace.job.numbers == {"trace": trace.pk}


def test_without_known_columns_it_waits_until_a_person_has_said_which_is_which(dropped, measurer):
    Trace.objects.filter(pk=dropped.pk).update(columns=None)
    matched = match_trace(trace=dropped, **HALLUX, by=measurer)
    assert (matched.state, matched.job) == ("arrived", None)

    trace = confirm_columns(trace=matched, columns=Columns(time=0, cuff=1, signal=2), by=measurer)

    assert trace.state == "waiting"
    assert Columns.from_json(trace.columns) == Columns(time=0, cuff=1, signal=2)


def test_an_ankle_s_recording_looks_for_returning_pulses(dropped, measurer):
    place = {"side": "left", "site": "posterior_tibial", "attempt": 1, "technique": "doppler"}

    assert match_trace(trace=dropped, **place, by=measurer).kind == "pulsation"


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"side": ""}, "side"),
        ({"site": "knee"}, "site"),
        ({"attempt": 4}, "attempt"),
        ({"site": "posterior_tibial"}, "technique"),
        ({"cuff_width_mm": 1}, "cuff_width_mm"),
    ],
)
def test_a_place_that_cannot_be_is_refused_at_its_field(dropped, measurer, wrong, field):
    with pytest.raises(ValidationError) as refused:
        match_trace(trace=dropped, **{**HALLUX, **wrong}, by=measurer)

    assert list(refused.value.message_dict) == [field]
    dropped.refresh_from_db()
    assert dropped.site == ""


def test_a_toe_that_is_not_there_has_no_recording(measurer):
    patient = new_patient(measurer)
    fact(measurer, patient, kind="amputation", level="toe", toe=1)
    trace = receive_file(exam=ready_exam(measurer, patient), name="R.csv", content=SHORT, by=measurer)

    with pytest.raises(ValidationError, match="RIGHT hallux is on record as amputated or absent"):
        match_trace(trace=trace, **HALLUX, by=measurer)


def test_two_recordings_do_not_stand_for_one_attempt(exam, dropped, measurer):
    match_trace(trace=dropped, **HALLUX, by=measurer)
    second = receive_file(exam=exam, name="R2.csv", content=other_file(1), by=measurer)

    with pytest.raises(ValidationError, match="A recording of RIGHT hallux is here already"):
        match_trace(trace=second, **HALLUX, by=measurer)

    assert match_trace(trace=second, **{**HALLUX, "attempt": 2}, by=measurer).state == "waiting"


def test_once_matched_a_recording_is_withdrawn_not_moved(dropped, measurer):
    match_trace(trace=dropped, **HALLUX, by=measurer)

    with pytest.raises(ValidationError, match="withdraw it with a reason"):
        match_trace(trace=dropped, **{**HALLUX, "side": "left"}, by=measurer)


def test_withdrawing_needs_a_reason_and_deletes_nothing(exam, dropped, measurer):
    with pytest.raises(ValidationError, match="Say why"):
        withdraw_trace(trace=dropped, because=" ", by=measurer)

    withdraw_trace(trace=dropped, because="another patient's", by=measurer)

    (line,) = traces_of(measurer, exam)
    assert (line.state, line.words) == ("withdrawn", "withdrawn: another patient's")
    assert open_original(trace=dropped, by=measurer) == SHORT
    with pytest.raises(ValidationError, match="withdrawn already"):
        withdraw_trace(trace=dropped, because="again", by=measurer)


def test_a_stored_file_that_was_changed_is_not_handed_out(dropped, measurer):
    with Path(dropped.original.path).open("r+b") as file:
        file.write(b"T")

    with pytest.raises(ValidationError, match="is not the one that was received"):
        open_original(trace=dropped, by=measurer)


def test_every_act_leaves_one_line(dropped, measurer):
    match_trace(trace=dropped, **HALLUX, by=measurer)
    open_original(trace=dropped, by=measurer)
    withdraw_trace(trace=dropped, because="test of the trail", by=measurer)

    lines = TrailRow.objects.filter(subject_type="traces.trace", subject_id=str(dropped.pk))
    assert [line.action for line in lines.order_by("pk")] == [
        "trace received",
        "trace matched",
        "trace file downloaded",
        "trace withdrawn",
    ]


def test_only_who_measures_attaches_and_only_in_their_clinic(exam, dropped, reporter, outsider):
    with pytest.raises(PermissionDenied):
        receive_file(exam=exam, name="R.csv", content=SHORT, by=reporter)
    with pytest.raises(NotHere):
        match_trace(trace=dropped, **HALLUX, by=outsider)
    with pytest.raises(NotHere):
        trace_for(outsider, dropped.pk)
