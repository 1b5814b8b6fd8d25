"""The pages of an exam's recordings: drop, confirm the site, say the columns, withdraw, download."""

import json
from dataclasses import replace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from access.models import TrailRow
from exams.traces.files import ColumnPreview, Columns, FileKind, Preview, Role
from exams.traces.models import Trace
from exams.traces.services.reading import analyse
from exams.traces.services.receiving import match_trace, receive_file
from tests.build import exam_with, ready_exam
from tests.traces.made import sent_recording
from tests.traces.test_reading_job import HALLUX, SAMPLES
from tests.traces.test_receiving import SHORT, other_file

UNCLEAR = Preview(
    kind=FileKind.CSV,
    columns=(
        ColumnPreview(0, "", "", ("0", "20"), 0.0, 1980.0, 0, Role.TIME, "it only rises, as a clock does"),
        ColumnPreview(1, "a", "", ("140,0", "139,9"), 130.0, 140.0, 0, Role.CUFF, "it falls steadily"),
        ColumnPreview(2, "b", "", ("0,1", "0,2"), 0.0, 1.0, 2, Role.SIGNAL, "it is the only one left"),
    ),
    samples=100,
    sampling_hz=50.0,
    duration_s=1.98,
    suggested=Columns(time=0, cuff=1, signal=2, separator=";", decimal_comma=True),
    questions=("Is the time in seconds, milliseconds or minutes?",),
    exact=False,
)


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def client(client_as, measurer):
    return client_as(measurer)


@pytest.fixture
def read(exam, measurer) -> Trace:
    trace = sent_recording(measurer, exam, **SAMPLES)
    analyse(trace=trace, by=measurer)
    return trace


def upload(name, content=SHORT):
    return SimpleUploadedFile(name, content)


def drop(client, exam, *files, **more):
    return client.post(reverse("traces:exam", args=[exam.pk]), {"files": list(files)}, **more)


def listed(client, exam) -> str:
    answer = client.get(reverse("traces:exam", args=[exam.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def place(trace, **said) -> dict[str, str]:
    whole = {"side": "right", "site": "toe_1", "attempt": "1", "technique": "", **said}
    return {f"t{trace.pk}-{name}": value for name, value in whole.items()}


def confirm(client, exam, *places, toes="two_cuffs"):
    sent = {"toes": toes, "others": "doppler"}
    for one in places:
        sent |= one
    return client.post(reverse("traces:match", args=[exam.pk]), sent)


# ---- dropping


def test_the_sheet_leads_to_the_recordings_and_loads_them_beside(client, exam):
    page = client.get(reverse("visits:sheet", args=[exam.pk])).content.decode()

    assert f'href="/traces/exam/{exam.pk}/"' in page
    assert f'hx-get="/traces/exam/{exam.pk}/part/"' in page


def test_an_empty_list_teaches_how_to_fill_it_and_how_to_record_by_each_technique(client, exam):
    page = listed(client, exam)

    assert "Export it from the recorder as CSV, EDF or WFDB" in page
    assert "Two cuffs" in page
    assert "Press the pulp firmly between two fingers" in page
    assert "Common practice in the trade; no source." in page


def test_dropped_files_are_kept_and_their_sites_asked_for(client, exam):
    answer = drop(client, exam, upload("R hallux.csv"), upload("L hallux.csv", other_file(1)))

    assert answer.headers["Location"] == f"/traces/exam/{exam.pk}/match/"
    assert set(Trace.objects.values_list("original_name", "state")) == {
        ("R hallux.csv", "arrived"),
        ("L hallux.csv", "arrived"),
    }


def test_the_good_files_are_kept_beside_bad_ones_which_get_their_words(client, exam):
    answer = drop(client, exam, upload("R hallux.csv"), upload("again.csv"), upload("L.csv", other_file(1)))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "2 files kept, 1 not kept" in page
    assert "<strong>again.csv</strong>: This exam has the same recording already" in page
    assert Trace.objects.count() == 2


def test_the_page_s_script_is_answered_file_by_file(client, exam):
    drop(client, exam, upload("R.csv"))

    answer = drop(client, exam, upload("again.csv"), headers={"Accept": "application/json"})

    assert answer.status_code == 422
    said = json.loads(answer.content)
    assert (said["kept"], said["refused"][0]["name"]) == ([], "again.csv")


def test_the_two_files_of_a_wfdb_recording_are_one_recording(client, exam, monkeypatch):
    joined = b"header and samples"
    said = {
        "put_together": lambda files: [("R.hea", joined)],
        "sniff": lambda name, content: FileKind.WFDB,
        "preview_safely": lambda kind, content: UNCLEAR,
    }
    for name, stands_in in said.items():
        monkeypatch.setattr(f"exams.traces.files.{name}", stands_in, raising=False)

    drop(client, exam, upload("R.hea", b"header"), upload("R.dat", b"samples"))

    trace = Trace.objects.get()
    assert (trace.format, trace.original_name, trace.columns) == ("wfdb", "R.hea", None)
    assert trace.original.read() == joined


@pytest.mark.parametrize(
    ("count", "words"),
    [(0, "Choose at least one file"), (21, "These are 21 files; at most 20")],
)
def test_no_file_or_too_many_at_once_keep_nothing(client, exam, count, words):
    answer = drop(client, exam, *(upload(f"{one}.csv", other_file(one)) for one in range(count)))

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Trace.objects.exists()


def test_a_file_beyond_the_cap_is_refused_beside_one_that_is_kept(client, exam, monkeypatch):
    monkeypatch.setattr("exams.traces.forms.MOST_BYTES", len(SHORT))

    answer = drop(client, exam, upload("R.csv"), upload("large.csv", other_file(1)))

    assert "<strong>large.csv</strong>: A file may have 32 MB" in answer.content.decode()
    assert Trace.objects.get().original_name == "R.csv"


def test_a_reporter_sees_the_list_and_is_not_offered_to_add(client_as, reporter, exam, read):
    page = listed(client_as(reporter), exam)

    assert "RIGHT hallux" in page
    assert 'type="file"' not in page
    assert "Withdraw" not in page


# ---- matching


@pytest.fixture
def two(exam, measurer) -> list[Trace]:
    return [
        receive_file(exam=exam, name=name, content=other_file(number), by=measurer)
        for number, name in enumerate(["R hallux.csv", "toe 2.csv"])
    ]


def test_what_the_name_says_is_proposed_and_an_unclear_side_is_left_open(client, exam, two):
    page = client.get(reverse("traces:match", args=[exam.pk])).content.decode()

    first, second = (page[page.index(one.original_name) :] for one in two)
    assert '<option value="right" selected>' in first[: first.index("toe 2.csv")]
    assert '<option value="" selected>' in second[: second.index("</select>")]
    assert '<option value="toe_2" selected>' in second


def test_confirmed_recordings_are_read_next(client, exam, two):
    answer = confirm(
        client, exam, place(two[0]), place(two[1], side="left", site="toe_2", technique="one_cuff_hand")
    )

    assert answer.headers["Location"] == f"/traces/exam/{exam.pk}/"
    assert list(Trace.objects.order_by("pk").values_list("side", "site", "technique", "state")) == [
        ("right", "toe_1", "two_cuffs", "waiting"),
        ("left", "toe_2", "one_cuff_hand", "waiting"),
    ]


def test_a_site_without_a_side_is_asked_at_its_field_and_the_other_file_is_kept(client, exam, two):
    answer = confirm(client, exam, place(two[0]), place(two[1], side="", site="toe_2"))

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "RIGHT or LEFT? The file&#x27;s name does not say it clearly." in page
    assert "One recording has its site." in page
    assert "R hallux.csv" not in page
    assert list(Trace.objects.order_by("pk").values_list("state", flat=True)) == ["waiting", "arrived"]


def test_two_files_for_one_attempt_are_both_asked_about_and_neither_is_kept(client, exam, two):
    answer = confirm(client, exam, place(two[0]), place(two[1]))

    assert answer.status_code == 422
    assert answer.content.decode().count("2 files say RIGHT hallux. Choose another attempt.") == 2
    assert set(Trace.objects.values_list("site", flat=True)) == {""}


def test_an_attempt_that_has_its_recording_is_refused_at_the_field(client, exam, two, read):
    answer = confirm(client, exam, place(two[0]), place(two[1], side="", site=""))

    assert answer.status_code == 422
    assert "A recording of RIGHT hallux is here already" in answer.content.decode()


def test_the_next_free_attempt_is_proposed(client, exam, two, read):
    page = client.get(reverse("traces:match", args=[exam.pk])).content.decode()

    assert '<option value="2" selected>' in page[: page.index("toe 2.csv")]


def test_without_a_technique_nothing_is_confirmed(client, exam, two):
    answer = confirm(client, exam, place(two[0]), toes="")

    assert "Choose how it was recorded, here or above" in answer.content.decode()


def test_a_file_left_open_waits_and_an_empty_form_says_so(client, exam, two):
    nothing = [place(one, side="", site="") for one in two]
    assert "Nothing was said yet" in confirm(client, exam, *nothing).content.decode()

    assert confirm(client, exam, place(two[0]), nothing[1]).status_code == 302
    assert Trace.objects.get(pk=two[1].pk).site == ""


# ---- columns


@pytest.fixture
def unclear(two, measurer, monkeypatch) -> Trace:
    monkeypatch.setattr("exams.traces.files.preview_safely", lambda kind, content: UNCLEAR, raising=False)
    Trace.objects.filter(pk=two[0].pk).update(columns=None)
    return match_trace(trace=Trace.objects.get(pk=two[0].pk), **HALLUX, by=measurer)


def columns_page(trace):
    return reverse("traces:columns", args=[trace.pk])


def test_matched_without_known_columns_a_recording_leads_to_the_question(client, exam, two):
    Trace.objects.filter(pk=two[0].pk).update(columns=None)

    answer = confirm(client, exam, place(two[0]), place(two[1], side="", site=""))

    assert answer.headers["Location"] == columns_page(two[0])


def test_the_question_shows_what_was_recognised_and_the_first_rows(client, unclear):
    page = client.get(columns_page(unclear)).content.decode()

    assert "Is the time in seconds, milliseconds or minutes?" in page
    assert "Cells are parted by semicolon, with decimal comma." in page
    assert "139,9" in page
    assert "it falls steadily" in page
    assert '<option value="1" selected>column 2: a' in page


def test_what_a_person_says_is_kept_and_the_recording_is_read(client, unclear):
    said = {"time": "0", "time_unit": "ms", "cuff": "1", "cuff_unit": "kPa", "signal": "2", "sampling_hz": ""}

    answer = client.post(columns_page(unclear), said)

    assert answer.headers["Location"] == f"/traces/exam/{unclear.exam_id}/"
    unclear.refresh_from_db()
    assert unclear.state == "waiting"
    kept = Columns.from_json(unclear.columns)
    assert (kept.time_unit, kept.cuff_unit, kept.separator, kept.decimal_comma) == ("ms", "kPa", ";", True)


def test_a_unit_that_is_not_clear_is_not_preselected(client, unclear, monkeypatch):
    small = replace(UNCLEAR.columns[1], low=0.0, high=20.0)
    unsaid = replace(UNCLEAR, columns=(UNCLEAR.columns[0], small, UNCLEAR.columns[2]))
    monkeypatch.setattr("exams.traces.files.preview_safely", lambda kind, content: unsaid)

    page = client.get(columns_page(unclear)).content.decode()

    unit = page[page.index('name="cuff_unit"') :]
    assert '<option value="" selected>choose' in unit[: unit.index("</select>")]


def test_where_nothing_could_be_suggested_the_table_s_habits_are_found_again(client, unclear, monkeypatch):
    unknown = replace(UNCLEAR, suggested=None)
    monkeypatch.setattr("exams.traces.files.preview_safely", lambda kind, content: unknown)
    said = {"time": "0", "time_unit": "s", "cuff": "1", "cuff_unit": "kPa", "signal": "2", "sampling_hz": ""}

    client.post(columns_page(unclear), said)

    assert Columns.from_json(Trace.objects.get(pk=unclear.pk).columns).separator == ""


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"cuff_unit": ""}, "Choose the unit."),
        ({"signal": "1"}, "must be different columns"),
        ({"cuff": ""}, "Choose the column."),
        ({"time": "", "sampling_hz": ""}, "how many samples a second"),
        ({"time": "", "sampling_hz": "many"}, "Type a number such as 100."),
    ],
)
def test_columns_that_cannot_be_are_refused_at_the_field(client, unclear, wrong, words):
    said = {"time": "0", "time_unit": "s", "cuff": "1", "cuff_unit": "mmHg", "signal": "2", "sampling_hz": ""}

    answer = client.post(columns_page(unclear), {**said, **wrong})

    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert Trace.objects.get(pk=unclear.pk).columns is None


# ---- the list, withdrawing, the file


def test_a_read_recording_is_listed_and_leads_to_the_desk(client, exam, read):
    page = listed(client, exam)

    assert "RIGHT hallux" in page
    assert "Waits for a reader" in page
    assert f'src="/traces/{read.pk}/thumbnail.svg"' not in page
    assert f'href="/traces/{read.pk}/"' in page
    assert "hx-get" not in page[page.index('id="traces"') : page.index("</ul>", page.index('id="traces"'))]


def test_while_a_worker_is_at_it_the_list_asks_again_by_itself(client, exam, measurer):
    sent_recording(measurer, exam, **SAMPLES)

    assert f'hx-get="/traces/exam/{exam.pk}/part/?whole"' in listed(client, exam)


def test_the_part_leaves_no_line_and_without_a_script_is_the_page(client, exam, read):
    address = reverse("traces:exam_part", args=[exam.pk])
    before = TrailRow.objects.count()

    part = client.get(address, headers={"HX-Request": "true"}).content.decode()

    assert "RIGHT hallux" in part
    assert exam.patient.family_name not in part
    assert TrailRow.objects.count() == before
    assert client.get(address).headers["Location"] == f"/traces/exam/{exam.pk}/"


def test_the_list_costs_the_same_however_much_it_holds_and_less_if_nothing(
    client, exam, two, read, measurer, django_assert_num_queries
):
    one, none = ready_exam(measurer), exam_with(measurer, right_hallux=90)
    sent_recording(measurer, one, key="another", **SAMPLES)

    for shown, queries in ((exam, 9), (one, 9), (none, 6)):
        with django_assert_num_queries(queries):
            client.get(reverse("traces:exam_part", args=[shown.pk]), headers={"HX-Request": "true"})


def test_withdrawing_asks_why_and_keeps_the_recording_in_the_list(client, exam, read):
    address = reverse("traces:withdraw", args=[read.pk])
    assert "Say why it is withdrawn." in client.post(address, {"because": " "}).content.decode()

    answer = client.post(address, {"because": "of another patient"}, follow=True)

    assert "Withdrawn: of another patient" in answer.content.decode()
    assert Trace.objects.get(pk=read.pk).withdrawn_because == "of another patient"


def test_the_file_comes_back_as_it_came_under_a_name_that_says_nothing(client, two):
    answer = client.get(reverse("traces:original", args=[two[0].pk]))

    assert answer.content == other_file(0)
    assert answer.headers["Content-Disposition"] == f'attachment; filename="trace-{two[0].pk}.csv"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert TrailRow.objects.latest("pk").action == "trace file downloaded"


def test_a_recording_sent_by_a_device_has_no_file_and_the_page_says_so(client, read):
    answer = client.get(reverse("traces:original", args=[read.pk]), follow=True)

    assert "A device sent this recording; there is no file of it." in answer.content.decode()


def test_today_says_how_many_recordings_wait(client, exam, read):
    page = client.get("/").content.decode()

    assert "1 recording waits." in page
    assert 'href="/traces/waiting/"' in page
