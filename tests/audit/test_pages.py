"""The pages of the audit: what stands on them for whom, and in how many queries."""

import json
import re
from datetime import UTC, date, datetime

from django.db import connection
from django.test import TestCase
from django.test.utils import CaptureQueriesContext

from access import clock
from access.models import TrailRow
from reports.audit.calendar import Period, Span
from reports.audit.models import Choice, Count, Figure, Holiday, Rules
from reports.audit.services import count_year, new_count
from tests.audit.cohort import Cohort
from tests.audit.test_counting import many_exams
from tests.people import cast_of, signed_in_client

NOW = datetime(2026, 11, 25, 14, 0, tzinfo=UTC)
YEAR = Period(date(2026, 4, 1), Span.YEAR)
WHOLE_YEAR = "period=year-2026-04"
SUMMER = "period=quarter-2026-07"


class Pages(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here, cls.there = cast_of("Alder House"), cast_of("Lock Street")
        cls.cohort = Cohort(cls.here)
        many_exams(cls.here, 40, rested=0.75, months=6)
        many_exams(cls.there, 24, rested=0.5, months=6)
        with clock.at(NOW):
            count_year(count=new_count(YEAR, cls.here.administrator), by=cls.here.administrator)

    def setUp(self):
        self.enterContext(clock.at(NOW))

    def get(self, who, address):
        return signed_in_client(who).get(address)

    def post(self, who, address, **said):
        return signed_in_client(who).post(address, said)

    def test_the_first_page_shows_twelve_measures_and_another_period_on_request(self):
        page = self.get(self.here.administrator, f"/audit/?{WHOLE_YEAR}")

        self.assertContains(page, "12 measures of Alder House, Apr 2026 to Mar 2027.")
        self.assertContains(page, "P01 Ten minutes of rest on record")
        self.assertContains(page, "Audit trail")  # the rooms of the house, from the frame of every page
        # Of the quarter that runs all is hidden from an administrator.
        for who, quarter in (("reporter", "Oct 2026 to Dec 2026"), ("administrator", "Jul 2026 to Sep 2026")):
            first = self.get(getattr(self.here, who), "/audit/")
            self.assertContains(first, f"measures of Alder House, {quarter}.")

    def test_whoever_cares_for_the_patients_sees_exact_figures_and_others_rounded_ones(self):
        # 1 of 1 of the cohort, and 30 of 40 in each of three months.
        exact = figures_on(self.get(self.here.reporter, f"/audit/?{SUMMER}"), "P01")
        rounded = figures_on(self.get(self.here.administrator, f"/audit/?{SUMMER}"), "P01")

        assert exact[:3] == ["91", "121", "1"]
        assert rounded[:3] == ["90", "120", "*"]

    def test_a_period_that_still_runs_is_hidden_from_who_does_not_care_for_the_patients(self):
        """Two counts of it would be subtracted: what is left is who came between them."""
        for period in (WHOLE_YEAR, "period=quarter-2026-10", "period=month-2026-11"):
            rounded = figures_on(self.get(self.here.administrator, f"/audit/?{period}"), "P01")
            assert rounded[:3] == ["*", "*", "*"]
        exact = figures_on(self.get(self.here.reporter, f"/audit/?{WHOLE_YEAR}"), "P01")
        assert exact[:3] == ["184", "245", "1"]

    def test_where_most_is_hidden_the_year_that_ended_last_is_offered(self):
        offered = '<a href="?period=year-2025-04">Apr 2025 to Mar 2026</a> may show more.'

        self.assertContains(self.get(self.here.administrator, "/audit/?period=month-2026-11"), offered)
        self.assertNotContains(self.get(self.here.reporter, "/audit/?period=month-2026-09"), offered)

    def test_a_small_number_stands_on_no_page_of_an_administrator(self):
        page = self.get(self.here.administrator, f"/audit/p10/?{WHOLE_YEAR}")

        # Two stiff ankles of twelve.
        self.assertContains(page, "* in Apr 2026 to Mar 2027")
        assert not re.search(r">2<|>2 of|16\.7", page.content.decode())

    def test_a_measure_shows_definition_run_chart_funnel_and_what_is_missing(self):
        page = self.get(self.here.administrator, "/audit/p01/?period=quarter-2026-04")

        for words in ("P01 version 1", "Run chart by month", "Between clinics", "Lock Street", "Not known"):
            self.assertContains(page, words)
        drawn = json.loads(re.search(r'id="audit-data"[^>]*>(.*?)</script>', page.content.decode())[1])
        assert [month["words"] for month in drawn["months"]][:2] == ["Apr 2026", "May 2026"]
        assert len(drawn["funnel"]["points"]) == 2

    def test_where_no_month_may_be_shown_the_run_chart_is_of_quarters(self):
        Figure.objects.filter(measure="P01", span="month").update(met_hidden=True, of_hidden=True)

        page = self.get(self.here.administrator, f"/audit/p01/?{WHOLE_YEAR}")

        self.assertContains(page, "Run chart by quarter")
        self.assertContains(page, "Apr 2026 to Jun 2026")

    def test_a_measure_that_awaits_data_says_what_for(self):
        page = self.get(self.here.administrator, "/audit/t03/")

        self.assertContains(page, "Not counted yet: it awaits signed reports.")

    def test_two_periods_are_compared_with_the_interval_of_their_difference(self):
        page = self.get(
            self.here.reporter, "/audit/p01/compare/?first=quarter-2026-04&second=quarter-2026-07"
        )

        self.assertContains(page, "Within chance: the interval of the difference holds zero.")
        assert re.search(r"[+-]\d+\.\d \([+-]\d+\.\d to \+\d+\.\d\)", page.content.decode())

    def test_an_auditor_gets_from_a_percentage_to_its_rows_and_their_exams(self):
        page = self.get(self.here.reporter, f"/audit/p05/rows/?{WHOLE_YEAR}")

        self.assertContains(page, "1 met, 1 not met, 0 not known")
        self.assertContains(page, "Counted by P05 version 1")
        self.assertContains(page, f"/exams/{self.cohort.ada_2.pk}/")
        self.assertNotContains(page, self.cohort.ada.family_name)
        assert self.get(self.here.administrator, "/audit/p05/rows/").status_code == 403

    def test_rows_of_every_counted_measure_can_be_listed(self):
        for figure in Figure.objects.filter(span="year").values_list("measure", flat=True).distinct():
            with self.subTest(measure=figure):
                page = self.get(self.here.reporter, f"/audit/{figure.lower()}/rows/?{WHOLE_YEAR}")
                assert page.status_code == 200

    def test_reasons_are_a_table(self):
        page = self.get(self.here.reporter, f"/audit/p09/?{WHOLE_YEAR}")

        self.assertContains(page, "Wound under the cuff")
        self.assertContains(page, "2 reasons in Apr 2026 to Mar 2027.")

    def test_ones_own_figures_need_twenty_and_others_are_for_reporter_and_educator(self):
        own = self.get(self.here.measurer, f"/audit/p14/people/?{WHOLE_YEAR}")

        self.assertContains(own, "shown from 20 on")
        teaching = self.get(self.here.educator, f"/audit/p14/people/?{WHOLE_YEAR}")
        self.assertContains(teaching, "Mina of")
        # Four recordings, one of them unread: small numbers, for who does not care for the patients.
        self.assertContains(own, ">4<")
        self.assertNotContains(teaching, ">4<")
        assert self.get(self.here.administrator, "/audit/p14/people/").status_code == 403

    def test_the_data_quality_page_leads_to_each_list_to_mend(self):
        page = self.get(self.here.reporter, "/audit/quality/")

        for key, words in (
            ("empty-sites", "exam of"),
            ("diabetes", "details of the person"),
            ("stale", "RIGHT, open wound since 3 Aug 2026"),
        ):
            self.assertContains(page, f"/audit/quality/{key}/")
            self.assertContains(self.get(self.here.reporter, f"/audit/quality/{key}/"), words)
        assert self.get(self.here.administrator, "/audit/quality/diabetes/").status_code == 403
        self.assertContains(self.get(self.here.administrator, "/audit/quality/"), ">*<")

    def test_a_measurer_finds_the_records_to_mend_and_no_figures(self):
        page = self.get(self.here.measurer, "/audit/quality/")

        self.assertContains(page, '<a href="/audit/quality/" aria-current="page">Data quality</a>')
        self.assertNotContains(page, "Audit statistics</a>")

    def test_a_clinic_chooses_its_measures_and_its_holidays(self):
        chosen = self.post(self.here.administrator, "/audit/choose/", measures=["P07", "P01"])
        held = self.post(
            self.here.administrator, "/audit/choose/holiday/", day="2026-12-25", words="Christmas Day"
        )
        again = self.post(
            self.here.administrator, "/audit/choose/holiday/", day="2026-12-25", words="once more"
        )

        assert (chosen.status_code, held.status_code, again.status_code) == (302, 302, 422)
        assert Choice.objects.get().measures == ["P07", "P01"]
        assert Holiday.objects.get().day == date(2026, 12, 25)

    def test_rules_are_set_by_the_system_administrator_within_bounds(self):
        said = {"year_starts_in": "1", "threshold": "7", "base": "5", "least_alike": "5", "because": "asked"}
        refused = self.post(self.here.system_administrator, "/audit/rules/", **said | {"threshold": "0"})
        self.post(self.here.system_administrator, "/audit/rules/", **said)

        self.assertContains(refused, "Write a whole number from 5 to 20.", status_code=422)
        assert Rules.objects.get().year_starts_in == 1
        assert self.get(self.here.administrator, "/audit/rules/").status_code == 403

    def test_a_nurse_is_refused_everywhere(self):
        for page in ("", "measures/", "p01/", "p01/compare/", "quality/", "reports/", "exports/", "what-if/"):
            with self.subTest(page=page):
                assert self.get(self.here.wound_nurse, f"/audit/{page}").status_code == 403

    def test_pages_take_as_many_queries_for_few_figures_as_for_many(self):
        pages = [f"/audit/?{WHOLE_YEAR}", f"/audit/?all=1&{WHOLE_YEAR}", f"/audit/p01/?{WHOLE_YEAR}"]
        many = [self.queries(page) for page in pages]
        Figure.objects.exclude(measure__in=["P01", "P02"]).delete()

        assert [self.queries(page) for page in pages] == many
        assert max(many) < 25

    def test_a_year_is_counted_on_request_and_the_page_says_so(self):
        answer = self.post(self.here.administrator, "/audit/count/", period="year-2025-04")

        assert answer.headers["Location"] == "/audit/?period=year-2025-04"
        assert Count.objects.get(counted_at=None).year_first == date(2025, 4, 1)
        page = self.get(self.here.administrator, "/audit/?period=year-2025-04")
        self.assertContains(page, "The figures are being counted")

    def test_a_page_leaves_one_line_in_the_trail(self):
        self.get(self.here.administrator, f"/audit/p01/?{WHOLE_YEAR}")

        assert TrailRow.objects.order_by("-pk")[0].action == "audit measure viewed"

    def queries(self, address):
        client = signed_in_client(self.here.administrator)
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            client.get(address)
        return len(asked)


def figures_on(page, measure):
    """Numerator, denominator, not known and so on, as the row of a measure shows them."""
    row = re.search(rf">{measure} .*?</tr>", page.content.decode(), re.DOTALL)[0]
    return [re.sub("<[^>]*>", "", one) for one in re.findall(r"<td[^>]*>(.*?)</td>", row, re.DOTALL)]
