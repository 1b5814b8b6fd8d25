"""A printed quarter: frozen, with the version of every definition, rounded where it must be."""

import io
from datetime import UTC, date, datetime

import pypdf
from django.test import TestCase

from access import clock
from reports.audit.calendar import Period, Span
from reports.audit.models import Count, Figure, QuarterReport
from reports.audit.services import count_year, make_quarter, new_count, open_quarter, render_quarter
from tests.audit.test_counting import many_exams
from tests.people import cast_of, signed_in_client

NOW = datetime(2026, 8, 20, 12, 0, tzinfo=UTC)
YEAR = Period(date(2026, 4, 1), Span.YEAR)
SPRING = Period(date(2026, 4, 1), Span.QUARTER)


class Printed(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here = cast_of("Alder House")
        many_exams(cls.here, 31, rested=0.9, months=3)
        with clock.at(NOW):
            count_year(count=new_count(YEAR, cls.here.administrator), by=cls.here.administrator)

    def setUp(self):
        self.enterContext(clock.at(NOW))

    def test_a_quarter_prints_every_counted_measure_with_the_version_of_its_definition(self):
        words = self.printed(self.here.administrator)

        assert "Audit statistics, Apr 2026 to Jun 2026" in words
        assert "P01 version 1: Ten minutes of rest on record" in words
        assert "Numerator: exams whose first cuff was inflated ten minutes or more" in words
        assert "T03 Signed within four working days: awaits signed reports." in words

    def test_figures_are_exact_only_for_who_cares_for_the_patients(self):
        # 28 of 31 in each of three months: 84 of 93.
        assert "84 93 0" in self.printed(self.here.reporter)
        assert "85 95 0" in self.printed(self.here.administrator)

    def test_a_report_with_exact_figures_is_not_there_for_an_administrator(self):
        report = make_quarter(quarter=SPRING, by=self.here.reporter)

        page = signed_in_client(self.here.administrator).get("/audit/reports/")
        assert report.exact
        self.assertContains(page, "No quarter is printed yet.")
        answer = signed_in_client(self.here.administrator).get(f"/audit/reports/{report.pk}/pdf/")
        assert answer.status_code == 404

    def test_a_printed_figure_keeps_the_count_it_rests_on(self):
        report = make_quarter(quarter=SPRING, by=self.here.administrator)
        count_year(count=new_count(YEAR, self.here.administrator), by=self.here.administrator)

        assert Count.objects.filter(counted_at__isnull=False).count() == 2
        assert Figure.objects.filter(tally=report.tally, measure="P01", span="quarter").exists()

    def test_a_quarter_of_a_year_that_is_not_counted_is_refused_with_what_to_do(self):
        answer = signed_in_client(self.here.administrator).post(
            "/audit/reports/", {"quarter": "quarter-2025-04"}
        )

        self.assertContains(answer, "Count its year first, then print it.", status_code=422)
        assert not QuarterReport.objects.exists()

    def printed(self, by):
        report = render_quarter(report=make_quarter(quarter=SPRING, by=by), by=by)
        pages = pypdf.PdfReader(io.BytesIO(open_quarter(report=report, by=by))).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())
