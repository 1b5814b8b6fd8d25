"""The pages of tables that come in, as a person walks through them."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook

from exams.visits.models import Exam
from jobs.services import run
from reports.exchange.models import Batch, MappingTemplate
from tests.exchange.make import HEADINGS, OPTIONS, ROW, as_csv, as_xlsx, checked, received, row, taken_in

SAID = {
    "issuer": OPTIONS.issuer,
    "arm_technique": "doppler",
    "ankle_technique": "doppler",
    "toe_technique": "two_cuffs",
    "unit": "mmhg",
}


@pytest.fixture
def client(client_as, measurer):
    return client_as(measurer)


def sent(client, content: bytes, name="old.csv"):
    return client.post(reverse("exchange:tables"), {"file": SimpleUploadedFile(name, content)})


def columns_of(client, batch: Batch) -> dict[str, str]:
    """What the page suggests for each column."""
    form = client.get(reverse("exchange:columns", args=[batch.pk])).context["form"]
    return {field.name: field.value() or "" for field in form.column_fields}


def shown(answer) -> str:
    return answer.content.decode()


def test_a_person_sends_names_checks_and_takes_in_a_table(client):
    answer = sent(
        client, as_csv(ROW, row(Hosp_No="OLD-2", Surname="Bramble", DOB="4 Apr 1961", R_toe="brisk"))
    )
    batch = Batch.objects.get()
    assert answer.url == reverse("exchange:columns", args=[batch.pk])

    answer = client.post(answer.url, {**columns_of(client, batch), **SAID, "keep_as": "Old ward book"})
    assert answer.status_code == 302, answer.context["form"].errors
    batch.refresh_from_db()
    run(batch.job.pk)
    page = shown(client.get(reverse("exchange:table", args=[batch.pk])))
    assert "1 exam with 8 readings can come in, 1 row cannot." in page
    assert "“brisk” is neither a pressure nor a word known here" in page

    answer = client.post(reverse("exchange:take_in", args=[batch.pk]), {})
    assert answer.status_code == 422
    assert "No record here yet: 1 person." in shown(answer)
    both = {"agree_new_people": "on", "leave_out_refused": "on"}
    client.post(reverse("exchange:take_in", args=[batch.pk]), both)
    batch.refresh_from_db()
    run(batch.job.pk)
    exam = Exam.objects.get()
    sheet = reverse("visits:sheet", args=[exam.pk])
    assert sheet in client.get(reverse("exchange:table", args=[batch.pk])).content.decode()
    assert "imported from old.csv, row 2" in shown(client.get(sheet))
    assert MappingTemplate.objects.get().columns["R toe"] == "right.toe_1.1"


def test_a_saved_template_reads_the_next_table_of_the_same_headings(client, measurer):
    first = received(measurer, as_csv(ROW))
    client.post(
        reverse("exchange:columns", args=[first.pk]), {**columns_of(client, first), **SAID, "keep_as": "Ward"}
    )

    headings = (HEADINGS[-1], *HEADINGS[:-1], "Extra")
    second = received(measurer, as_csv(("1",) * 14, headings=headings))
    form = client.get(reverse("exchange:columns", args=[second.pk])).context["form"]

    assert form["issuer"].value() == "Old ward book"
    assert form["toe_technique"].value() == "two_cuffs"
    assert (form["column_0"].value(), form["column_13"].value()) == ("left.toe_1.1", "")


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"issuer": ""}, "issuer", "Write who issued them"),
        ({"unit": ""}, "unit", "which can be either"),
        ({"toe_technique": ""}, "toe_technique", "Say how the toes were measured"),
        ({"date_order": ""}, "date_order", "Day first or month first?"),
        ({"column_0": ""}, "__all__", "No column is the person"),
        ({"column_3": ""}, "__all__", "No column is the birth date"),
        ({"column_4": ""}, "exam_date", "No column is the day of the exam"),
        ({"column_5": "right.toe_1.1"}, "column_6", "is taken as this already"),
        ({"words": "nothing meant"}, "words", "does not say what is meant"),
    ],
)
def test_what_is_not_certain_is_asked_at_its_field(client, measurer, changed, field, words):
    headings = ("Hosp No", "Surname", "Forename", "DOB", "Date", "R DP", "R toe")
    batch = received(
        measurer, as_csv(("A", "Quill", "Ada", "03/04/1950", "05/06/2019", "20", "14"), headings=headings)
    )
    suggested = {**columns_of(client, batch), **SAID, "date_order": "dmy"}

    answer = client.post(reverse("exchange:columns", args=[batch.pk]), {**suggested, **changed})

    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert not Batch.objects.get(pk=batch.pk).mapping


def test_units_and_order_of_dates_that_the_numbers_tell_are_not_asked(client, measurer):
    batch = received(measurer, as_csv(row(DOB="25/12/1950", Date="14/05/2019", R_arm="18,5", L_arm="18,1")))

    form = client.get(reverse("exchange:columns", args=[batch.pk])).context["form"]

    assert (form["unit"].value(), form["date_order"].value()) == ("kpa", "dmy")


def test_the_first_rows_are_shown_as_they_would_be_read(client, measurer):
    batch = received(measurer, as_csv(row(R_toe="NC")))

    page = shown(client.get(reverse("exchange:columns", args=[batch.pk])))

    assert "RIGHT hallux: cannot be occluded" in page
    assert "LEFT posterior tibial: 152 mmHg" in page


def test_another_sheet_and_row_of_headings_can_be_chosen(client, measurer):
    def title(book, sheet):
        sheet.insert_rows(1)
        sheet["A1"] = "Pressures of the old ward"
        book.create_sheet("Other").append(["nothing"])

    batch = received(measurer, as_xlsx(ROW, touch=title), "old.xlsx")

    client.post(reverse("exchange:sheet", args=[batch.pk]), {"sheet": "Pressures", "heading_row": "2"})

    assert columns_of(client, batch)["column_12"] == "left.toe_1.1"


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4", b"PK\x03\x04"])
def test_a_file_that_is_no_table_is_answered_at_its_field(client, content):
    answer = sent(client, content)

    assert answer.status_code == 422
    assert answer.context["form"].errors["file"]
    assert not Batch.objects.exists()


def test_rows_to_mend_are_downloaded_with_what_is_wrong(client, measurer):
    batch = checked(measurer, as_csv(row(R_toe="brisk", Forename="=HYPERLINK(1)")))

    answer = client.get(reverse("exchange:error_sheet", args=[batch.pk, "xlsx"]))

    lines = list(load_workbook(io.BytesIO(answer.content)).active.iter_rows(values_only=True))
    assert lines[0][:3] == ("What is wrong", "What to do", "Hosp No")
    assert "“brisk”" in lines[1][0]
    assert lines[1][4] == "'=HYPERLINK(1)"


def test_a_table_is_taken_back_with_a_reason(client, measurer):
    batch = taken_in(measurer, as_csv(ROW))
    address = reverse("exchange:take_back", args=[batch.pk])

    assert client.post(address, {"because": ""}).status_code == 422
    client.post(address, {"because": "wrong book"})

    batch.refresh_from_db()
    run(batch.job.pk)
    assert not Exam.objects.exists()
    assert "Taken back: wrong book" in shown(client.get(reverse("exchange:table", args=[batch.pk])))


@pytest.mark.parametrize("people", [1, 60])
def test_the_pages_ask_the_database_the_same_for_any_table(
    client, measurer, django_assert_max_num_queries, people
):
    batch = checked(measurer, as_csv(*(row(Hosp_No=f"P-{n}", R_toe="brisk") for n in range(people))))

    for name, most in (("exchange:table", 16), ("exchange:columns", 20)):
        with django_assert_max_num_queries(most):
            client.get(reverse(name, args=[batch.pk]))
