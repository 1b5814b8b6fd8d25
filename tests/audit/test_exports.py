"""Files that leave the house: what is in them, who may have them, and what cannot be got out of them."""

import csv
import io
import json
import re
import zipfile
from datetime import UTC, date, datetime, timedelta

import pyarrow.parquet as pq
import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import TestCase
from openpyxl import load_workbook

from access import clock
from access.models import TrailRow
from exams.patients.models import Identifier, Patient
from exams.visits.models import Exam
from reports.audit import export_files
from reports.audit.calendar import Period, Span
from reports.audit.export_files import Column, harmless, write_archive
from reports.audit.export_rows import Kind, Visit, alike
from reports.audit.models import Export, Figure
from reports.audit.pseudonyms import age_band
from reports.audit.queries.figures import overview
from reports.audit.sent import measure_said
from reports.audit.services import (
    ask_for_rows,
    cancel,
    count_year,
    decide,
    export_sums_of,
    make_link,
    make_quarter,
    new_count,
    take,
    write_export,
)
from tests.audit.cohort import Cohort
from tests.audit.test_counting import many_exams
from tests.people import cast_of, signed_in_client

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
YEAR = Period(date(2026, 4, 1), Span.YEAR)


class Exports(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here, cls.there = cast_of("Alder House"), cast_of("Lock Street")
        cls.cohort = Cohort(cls.here)
        many_exams(cls.here, 30, rested=0.9, months=3)
        many_exams(cls.there, 4, months=3)
        with clock.at(NOW):
            cls.count = count_year(count=new_count(YEAR, cls.here.administrator), by=cls.here.administrator)

    def setUp(self):
        self.enterContext(clock.at(NOW))
        self.administrator, self.reporter = self.here.administrator, self.here.reporter

    # ---- sums

    def test_sums_are_rounded_and_hidden_whoever_asks_for_them(self):
        rows = table_of(self.sums("csv", self.reporter))

        found = [row for row in rows if (row["measure"], row["begins"]) == ("P10", "2026-04-01")]
        assert {(row["met"], row["hidden"]) for row in found} == {("", "met of")}
        assert {row["span"] for row in rows} == {"month", "quarter"}, "the year still runs"
        shown = {int(row[name]) for row in rows for name in ("met", "of", "unknown") if row[name]}
        assert all(number % 5 == 0 for number in shown)

    def test_every_form_holds_the_same_table_with_its_codebook_and_definitions(self):
        by_csv, by_xlsx, by_parquet = (self.sums(form) for form in ("csv", "xlsx", "parquet"))

        rows = table_of(by_csv)
        sheet = list(load_workbook(io.BytesIO(inside(by_xlsx, "figures.xlsx"))).active.values)
        parquet = pq.read_table(io.BytesIO(inside(by_parquet, "figures.parquet"))).to_pylist()
        assert len(rows) == len(sheet) - 1 == len(parquet)
        assert sheet[0] == tuple(rows[0]) == tuple(parquet[0])
        assert [row["of"] for row in rows] == ["" if one["of"] is None else str(one["of"]) for one in parquet]
        book = list(csv.DictReader(io.StringIO(inside(by_csv, "codebook.csv").decode())))
        assert [one["column"] for one in book] == list(rows[0])
        assert "P01 version 1: Ten minutes of rest on record" in inside(by_csv, "about.txt").decode()

    def test_no_two_tables_of_an_export_subtract_to_a_small_number(self):
        """Months from their quarter, quarters from the year, the clinic from all, the part from the whole."""
        shown = {
            (row["measure"], row["clinic"], row["span"], row["begins"], row["code"]): row
            for row in table_of(self.sums("csv"))
        }
        truth = {
            (
                one.measure,
                one.clinic.name if one.clinic else "all clinics",
                one.span,
                str(one.first),
                one.code,
            ): one
            for one in Figure.objects.filter(tally=self.count).select_related("clinic")
        }

        for key, row in shown.items():
            for name in ("met", "of", "unknown"):
                number = getattr(truth[key], name)
                if not 1 <= number <= 7:
                    continue
                with self.subTest(key=key, name=name):
                    assert row[name] == ""
                    for parent, others in lines_through(key, shown):
                        assert width_of_rest(shown, parent, others, name, number) >= 5
        assert [key for key in truth if key[1] == "Lock Street" and key in shown] == []

    def test_page_printed_quarter_program_and_file_hide_and_round_alike(self):
        by, spring = self.administrator, Period(date(2026, 4, 1), Span.QUARTER)
        printed = {row["id"]: row for row in make_quarter(quarter=spring, by=by).content["rows"]}
        in_file = {
            row["measure"]: row
            for row in table_of(self.sums("csv"))
            if (row["span"], row["begins"], row["clinic"], row["code"])
            == ("quarter", "2026-04-01", "Alder House", "")
        }

        rows = overview(by, spring.key, everything=True).rows
        assert len(rows) == len(printed) > 30
        for row in rows:
            name, told = row.now.measure.id, measure_said(row.now)
            page = (row.now.met_words, row.now.of_words, row.now.unknown_words)
            assert page == tuple(printed[name][part] for part in ("met", "of", "unknown"))
            for part, words in zip(("met", "of", "unknown"), page, strict=True):
                assert (
                    in_file[name][part]
                    == words.replace("*", "")
                    == ("" if told[part] is None else str(told[part]))
                )
            if told["share"] is not None:
                assert in_file[name]["low"] == str(round(100 * told["low"], 1))

    def test_who_does_not_take_the_rows_is_not_told_how_many_exams_there_are(self):
        export = write_export(export=self.approved(self.asked()), by=self.reporter)
        address = f"/audit/exports/{export.pk}/"

        self.assertContains(signed_in_client(self.administrator).get(address), "<dt>Rows</dt>")
        self.assertNotContains(signed_in_client(self.reporter).get(address), "<dt>Rows</dt>")

    # ---- rows

    def test_rows_need_a_purpose_a_second_person_and_are_taken_once_by_a_link(self):
        export = self.asked()
        with pytest.raises(ValidationError, match="somebody else has to decide"):
            decide(export=export, approve=True, because="mine", by=self.administrator)
        with pytest.raises(ValidationError, match="Nobody has approved"):
            write_export(export=export, by=self.administrator)

        export = write_export(export=self.approved(export), by=self.reporter)
        with pytest.raises(ValidationError, match="Only the person who asked"):
            make_link(export=export, by=self.reporter)
        first, second = (make_link(export=export, by=self.administrator) for _ in range(2))
        with pytest.raises(ValidationError, match="not the newest"):
            take(export=export, by=self.administrator, token=first)
        with clock.at(NOW + timedelta(minutes=16)), pytest.raises(ValidationError, match="15 minutes"):
            take(export=export, by=self.administrator, token=second)
        assert zipfile.is_zipfile(self.taken(export, self.administrator, second))
        assert not default_storage.exists(Export.objects.get(pk=export.pk).file.name)
        with pytest.raises(ValidationError, match="taken already"):
            take(export=export, by=self.administrator, token=second)
        said = list(TrailRow.objects.filter(subject_type="audit.export").values_list("action", flat=True))
        for action in ("audit rows asked for", "audit rows approved", "audit export downloaded"):
            assert action in said

    def test_a_request_runs_out_and_may_be_refused(self):
        export = write_export(export=self.approved(self.asked()), by=self.reporter)
        with clock.at(NOW + timedelta(days=8)), pytest.raises(ValidationError, match="time is over"):
            make_link(export=export, by=self.administrator)
        refused = decide(export=self.asked(), approve=False, because="not needed", by=self.reporter)

        assert (refused.approved, refused.job) == (False, None)

    def test_rows_name_nobody_and_hold_no_day_number_or_text_of_the_record(self):
        rows = table_of(self.rows(), "exams")
        text = json.dumps(rows)

        names = [*Patient.objects.values_list("family_name", "given_name", "birth_date")]
        for family, given, born in names:
            assert family not in text
            assert given not in text
            assert str(born) not in text
        assert not any(value in text for value in Identifier.objects.values_list("value", flat=True))
        assert "needs" not in text
        assert self.here.measurer.name not in text
        days = {str(day.date()) for day in Exam.objects.values_list("measured_at", flat=True) if day}
        assert not any(day in text for day in days)

    def test_everybody_released_has_four_others_of_their_kind(self):
        rows = table_of(self.rows(), "exams")

        people = {row["person"]: tuple(row[name] for name in KIND) for row in rows}
        sizes = {kind: list(people.values()).count(kind) for kind in people.values()}
        assert min(sizes.values()) >= 5
        assert len(people) >= 90

    def test_two_exports_cannot_be_linked_by_name_or_order(self):
        first, second = (table_of(self.rows(), "exams") for _ in range(2))

        assert not {row["person"] for row in first} & {row["person"] for row in second}
        assert not {row["exam"] for row in first} & {row["exam"] for row in second}
        assert not {row["measurer"] for row in first} & {row["measurer"] for row in second}
        in_order = [row["person"] for row in first]
        assert in_order == sorted(in_order), "the order of the pseudonyms, not that of the records"

    def test_an_earlier_export_of_the_same_year_is_told_to_who_decides(self):
        self.rows()
        export = self.asked()

        page = signed_in_client(self.reporter).get(f"/audit/exports/{export.pk}/")
        self.assertContains(page, "1 earlier export of rows of this year was approved.")

    # ---- names

    def test_rows_with_names_are_asked_for_by_who_cares_for_the_people_and_decided_by_another(self):
        with pytest.raises(PermissionDenied):
            self.named(self.administrator)
        export = self.named(self.reporter)
        with pytest.raises(ValidationError, match="somebody else has to decide"):
            decide(export=export, approve=True, because="mine", by=self.reporter)
        with pytest.raises(PermissionDenied):
            decide(export=export, approve=True, because="agreed", by=self.here.measurer)
        export = decide(export=export, approve=True, because="agreed", by=self.administrator)
        export = write_export(export=export, by=self.administrator)
        with pytest.raises(PermissionDenied):
            make_link(export=export, by=self.administrator)

        token = make_link(export=export, by=self.reporter)
        rows = table_of(self.taken(export, self.reporter, token).getvalue(), "exams")

        eli = self.cohort.eli
        found = [row for row in rows if row["family_name"] == eli.family_name]
        assert [(row["birth_date"], row["day"], row["right_toe_pressure"]) for row in found] == [
            (str(eli.birth_date), "2026-08-07", "26.0")
        ]
        assert found[0]["identifiers"] == " ".join(eli.identifiers.values_list("issuer", "value")[0])
        assert len(rows) == Exam.objects.filter(clinic=self.here.clinic, measured_at__isnull=False).count()
        with pytest.raises(ValidationError, match="taken already"):
            make_link(export=export, by=self.reporter)

    def test_rows_with_names_last_a_day_and_every_step_stands_in_the_trail(self):
        export = decide(
            export=self.named(self.reporter), approve=True, because="agreed", by=self.administrator
        )
        export = write_export(export=export, by=self.administrator)
        with clock.at(NOW + timedelta(hours=25)), pytest.raises(ValidationError, match="time is over"):
            make_link(export=export, by=self.reporter)
        self.taken(export, self.reporter, make_link(export=export, by=self.reporter))

        said = TrailRow.objects.filter(subject_type="audit.export", subject_id=str(export.pk))
        assert set(said.values_list("action", flat=True)) >= {
            "audit rows with names asked for",
            "audit rows approved",
            "audit export written",
            "audit export link made",
            "audit export downloaded",
        }

    def test_an_administrator_is_not_offered_names_and_a_measurer_cannot_ask(self):
        for who, shown in ((self.reporter, True), (self.administrator, False)):
            page = signed_in_client(who).get("/audit/exports/")
            assert ("Ask for rows with names" in page.content.decode()) is shown
        assert signed_in_client(self.here.measurer).post("/audit/exports/names/").status_code == 403
        wrong = signed_in_client(self.reporter).post("/audit/exports/names/", {"year": "year-2026-04"})
        self.assertContains(wrong, "Say why the names are needed", status_code=422)

    # ---- not half

    def test_what_nobody_can_take_any_more_is_deleted_when_the_next_file_is_written(self):
        export = write_export(export=self.approved(self.asked()), by=self.reporter)
        stray = default_storage.save(
            f"exports/{self.here.clinic.pk}/{export.pk}-half.zip", ContentFile(b"PK")
        )
        with clock.at(NOW + timedelta(days=8)):
            self.sums("csv")

        assert not default_storage.exists(stray)
        assert not default_storage.exists(export.file.name)

    def test_a_cancelled_export_keeps_nothing(self):
        export = self.approved(self.asked())
        cancel(export=export, by=self.administrator)
        with pytest.raises(ValidationError, match="Cancelled"):
            write_export(export=Export.objects.get(pk=export.pk), by=self.reporter)

        assert not Export.objects.get(pk=export.pk).is_ready

    def test_an_export_cancelled_while_it_is_written_keeps_nothing(self):
        export = self.approved(self.asked())

        def halfway(part, words):
            if words == "writing":
                cancel(export=export, by=self.administrator)

        before = self.files()
        with pytest.raises(ValidationError, match="Cancelled"):
            write_export(export=export, by=self.reporter, tell=halfway)
        assert Export.objects.get(pk=export.pk).file.name == ""
        assert self.files() == before

    def test_a_file_written_twice_is_one_file(self):
        export = self.approved(self.asked())
        first = write_export(export=export, by=self.reporter)
        again = write_export(export=Export.objects.get(pk=export.pk), by=self.reporter)

        assert first.file.name == again.file.name

    def test_the_pages_lead_from_asking_to_deciding_and_show_the_link_once(self):
        browser, other = signed_in_client(self.administrator), signed_in_client(self.reporter)
        wrong = browser.post("/audit/exports/rows/", {"year": "year-2026-04", "form": "csv", "purpose": ""})
        self.assertContains(wrong, "Say what the rows are for", status_code=422)
        said = {"year": "year-2026-04", "form": "csv", "purpose": "a question", "legal_basis": "approval 7"}
        address = browser.post("/audit/exports/rows/", said).headers["Location"]

        self.assertContains(browser.get(address), "Somebody else who may see the audit has to decide.")
        other.post(f"{address}decide/", {"decision": "approve", "because": "agreed"})
        write_export(export=Export.objects.latest("pk"), by=self.reporter)
        page = browser.post(f"{address}link/")
        token = re.search(r'name="token" value="([^"]+)"', page.content.decode())[1]
        taken = browser.post(f"{address}file/", {"token": token})

        assert taken.headers["Content-Type"] == "application/zip"
        assert browser.post(f"{address}file/", {"token": token}).status_code == 409

    def files(self):
        folder = f"exports/{self.here.clinic.pk}"
        return default_storage.listdir(folder)[1] if default_storage.exists(folder) else []

    def sums(self, form, by=None):
        by = by or self.administrator
        export = export_sums_of(year=YEAR, form=form, by=by)
        return self.taken(write_export(export=export, by=by), by).getvalue()

    def asked(self):
        return ask_for_rows(
            year=YEAR, form="csv", purpose="a question", legal_basis="approval 7", by=self.administrator
        )

    def named(self, by):
        said = {"year": YEAR, "form": "csv", "purpose": "a look-back", "legal_basis": "approval 8"}
        return ask_for_rows(by=by, named=True, **said)

    def approved(self, export):
        return decide(export=export, approve=True, because="agreed", by=self.reporter)

    def rows(self):
        export = write_export(export=self.approved(self.asked()), by=self.reporter)
        token = make_link(export=export, by=self.administrator)
        return self.taken(export, self.administrator, token).getvalue()

    def taken(self, export, by, token=""):
        """What is handed out, once the act is committed."""
        with self.captureOnCommitCallbacks(execute=True), take(export=export, by=by, token=token) as file:
            return io.BytesIO(file.read())


KIND = ("age_band", "sex", "amputation", "ulcer")


def inside(data, name):
    return zipfile.ZipFile(io.BytesIO(data)).read(name)


def table_of(data, name="figures"):
    return list(csv.DictReader(io.StringIO(inside(data, f"{name}.csv").decode())))


def lines_through(key, shown):
    """Every sum that a figure is part of: the whole, and the other parts of it."""
    measure, clinic, span, _, code = key
    for larger, length in (("quarter", 3), ("year", 12)):
        parts = "month" if larger == "quarter" else "quarter"
        if span != parts:
            continue
        for parent in [one for one in shown if one[:3] == (measure, clinic, larger) and one[4] == code]:
            first = date.fromisoformat(parent[3])
            inside_it = [
                one
                for one in shown
                if one[:3] == (measure, clinic, parts)
                and one[4] == code
                and 0 <= months_between(first, date.fromisoformat(one[3])) < length
            ]
            if key in inside_it:
                yield parent, [one for one in inside_it if one != key]


def months_between(first, later):
    return (later.year - first.year) * 12 + later.month - first.month


def width_of_rest(shown, parent, others, name, number):
    """How many small numbers a hidden figure may still be, after the others are taken from their whole."""
    values = [shown[one][name] for one in (parent, *others)]
    if "" in values:
        return 7  # one of them is hidden: nothing can be taken off
    whole, *parts = map(int, values)
    low = whole - 2 - sum(part + 2 if part else 0 for part in parts)
    high = whole + 2 - sum(max(part - 2, 8) if part else 0 for part in parts)
    assert low <= number <= high
    return min(7, high) - max(1, low) + 1


def test_text_is_never_run_as_a_formula():
    for text in ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\u00a0=1", "\uff1d1"):
        assert harmless(text).startswith("'")
    # Where a semicolon parts cells, the second half would be one of its own.
    assert harmless("Marsh;=1+1") == "Marsh;'=1+1"
    assert [harmless(one) for one in ("", "Ann-Marie", "a; b", "Marsh - Quill")] == [
        "",
        "Ann-Marie",
        "a; b",
        "Marsh - Quill",
    ]
    assert [harmless(one) for one in (-1, None, "P01", 2.5)] == [-1, None, "P01", 2.5]


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_formula_in_a_cell_arrives_as_text(form):
    out = io.BytesIO()
    columns = [Column("=name", "text", "=means")]
    write_archive(out, name="t", form=form, columns=columns, rows=[["=HYPERLINK(1)"]], about=[])

    data = inside(out.getvalue(), f"t.{form}")
    if form == "xlsx":
        cells = [cell for row in load_workbook(io.BytesIO(data)).active for cell in row]
        assert [(cell.data_type, cell.value) for cell in cells] == [("s", "'=name"), ("s", "'=HYPERLINK(1)")]
    else:
        assert data.decode().split() == ["'=name", "'=HYPERLINK(1)"]


def test_a_sheet_that_would_be_too_long_is_refused(monkeypatch):
    monkeypatch.setattr(export_files, "MOST_ROWS_OF_A_SHEET", 2)
    with pytest.raises(export_files.TooManyRows):
        write_archive(
            io.BytesIO(), name="t", form="xlsx", columns=[Column("a", "whole", "")], rows=[[1]] * 3, about=[]
        )


def test_who_is_alone_of_their_kind_is_widened_or_left_out():
    once = ("yes", (Visit(0, "full", "x"),), 0)
    many = Kind("60-64", "female", "none", "no", *once)
    few = [Kind(band, "male", "none", "no", *once) for band in ("50-54", "65-69")]
    alone = Kind("90+", "other", "hip", "yes", *once)

    released = alike({many: 6, few[0]: 3, few[1]: 3, alone: 1}, 5)

    wide = Kind("50-69", "male", "none", "no", "*", (Visit(0, "*", "x"),), 0)
    assert released == {many: many, **dict.fromkeys(few, wide)}


def test_ages_stand_in_bands_of_five_years_and_from_ninety_together():
    on = date(2026, 11, 25)

    bands = [age_band(born, on) for born in (date(1966, 11, 25), date(1966, 11, 26), date(1920, 1, 1))]
    assert bands == ["60-64", "55-59", "90+"]
