"""The record as known on a past day, two exams side by side, and the summary."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from access.models import TrailRow
from exams.hemodynamics import OwnNoise, Side, Site
from exams.patients.services import record_limb_fact
from exams.visits.services import correct_reading
from exams.visits.typed import read_reading
from reports.timeline.compare import compared
from tests.build import new_patient, reading_at, whole_exam
from tests.timeline.many import copies_of
from tests.timeline.records import CRITERIA, foot, record

SPRING = datetime(2025, 4, 7, 10, tzinfo=UTC)
SUMMER = datetime(2025, 7, 7, 10, tzinfo=UTC)
AUTUMN = datetime(2025, 10, 6, 10, tzinfo=UTC)


class TestTwoExams:
    """Any two exams side by side, from the exams themselves; no database."""

    def of(self, before, after, own=()):
        earlier, later = record(1, date(2024, 1, 8), before), record(2, date(2026, 1, 8), after)
        return compared(earlier, later, {}, CRITERIA, UTC, own)[0]

    def test_an_ankle_pressure_alone_is_not_compared_because_no_repeatability_of_it_is_published(self):
        limb = self.of(foot(Side.RIGHT, arm=None, ankle=140, toe=None), foot(Side.RIGHT, arm=None, ankle=90))

        ankle = {one.name: one.words for one in limb.measures}["ankle pressure"]
        assert ankle == (
            "Cannot be compared because: no published repeatability of an ankle pressure alone, go by the "
            "index."
        )

    def test_an_ankle_pressure_is_judged_by_the_clinics_own_pairs_where_there_are_enough(self):
        own = (OwnNoise("ankle_pressure", "doppler", 6.0, 34, "agreement, autumn"),)

        limb = self.of(foot(Side.RIGHT, ankle=140), foot(Side.RIGHT, ankle=90), own)

        ankle = {one.name: one.words for one in limb.measures}["ankle pressure"]
        assert ankle.startswith(
            "More than noise: −50 mmHg (interval −66.6 to −33.4); repeats differ by 16.6 mmHg"
        )
        assert "this clinic: agreement, autumn, 34 pairs" in ankle

    def test_a_difference_beyond_noise_is_told_without_a_trend_word(self):
        limb = self.of(foot(Side.RIGHT, toe=80), foot(Side.RIGHT, toe=50))

        toe = {one.name: one.words for one in limb.measures}["toe pressure"]
        assert toe == "More than noise: −30 mmHg (interval −56 to −4); repeats differ by 26 mmHg (ROMANOS10)."

    def test_another_toe_is_not_compared_and_says_why(self):
        limb = self.of(foot(Side.RIGHT, toe=80), foot(Side.RIGHT, toe=50, toe_site=Site.TOE_2))

        toe = {one.name: one.words for one in limb.measures}["toe pressure"]
        assert toe == ("Cannot be compared because: measured at the hallux before and at the second toe now.")

    def test_every_site_of_either_exam_has_a_row_and_a_difference_only_of_two_pressures(self):
        limb = self.of(foot(Side.RIGHT, toe=80), foot(Side.RIGHT, ankle=132, toe=50, toe_site=Site.TOE_2))

        assert {one.name: one.difference for one in limb.sites} == {
            "arm": "0 mmHg",
            "posterior tibial": "−18 mmHg",
            "dorsalis pedis": "−18 mmHg",
            "hallux": "",
            "second toe": "",
        }


@pytest.fixture
def ivy(measurer):
    with clock.at(SPRING - timedelta(days=1)):
        return new_patient(measurer, given_name="Ivy", family_name="Sampleton")


@pytest.fixture
def text_of(client_as, measurer, ivy):
    def text(rest):
        return " ".join(client_as(measurer).get(f"/patients/{ivy.pk}/{rest}").content.decode().split())

    return text


@pytest.mark.django_db
class TestAsKnown:
    """Measured in spring at 48, corrected in summer to 84, amputated in summer; told again in autumn."""

    @pytest.fixture(autouse=True)
    def record_of_a_year(self, measurer, ivy):
        exam = whole_exam(measurer, ivy, at=SPRING, right_hallux=48)
        first = reading_at(exam, "right_hallux")
        with clock.at(SUMMER):
            correct_reading(
                reading=first,
                value=read_reading("84", "toe_1"),
                technique=first.technique,
                reason="digits swapped",
                by=measurer,
            )
            record_limb_fact(
                patient=ivy,
                side="right",
                kind="amputation",
                level="toe",
                toe=2,
                started_on=SPRING.date() + timedelta(days=9),
                source="letter",
                by=measurer,
            )
        whole_exam(measurer, ivy, at=AUTUMN, right_hallux=70)

    def test_today_shows_the_correction_the_event_and_every_exam(self, text_of):
        page = text_of("timeline/")

        assert ("84 mmHg" in page, "48 mmHg" in page, "70 mmHg" in page) == (True, False, True)
        assert "second toe amputated or absent" in page
        assert "as it was known" not in page

    def test_a_day_before_the_correction_shows_what_stood_then_and_says_so(self, text_of):
        page = text_of("timeline/?known_on=2025-05-01")

        assert ("84 mmHg" in page, "48 mmHg" in page, "70 mmHg" in page) == (False, True, False)
        assert "second toe amputated" not in page
        assert "The record as it was known on 1 May 2025." in page

    def test_the_day_of_the_correction_knows_it(self, text_of):
        page = text_of("timeline/?known_on=2025-07-07")

        assert ("84 mmHg" in page, "48 mmHg" in page) == (True, False)
        assert "second toe amputated or absent, 16 Apr 2025" in page

    def test_the_index_of_then_is_computed_from_the_values_of_then(self, text_of):
        now, then = text_of("timeline.csv"), text_of("timeline.csv?known_on=2025-05-01")

        assert ",84," in now
        assert ",48," in then
        assert "0.34" in then  # 48 over 140
        assert "0.34" not in now

    def test_a_day_before_the_first_exam_has_nothing(self, text_of):
        assert "Nothing was on record by then." in text_of("timeline/?known_on=2025-01-01")

    @pytest.mark.parametrize("file", ["timeline.csv", "timeline-pressures.svg"])
    def test_a_day_that_cannot_be_read_gives_no_file_of_today(self, ivy, client_as, measurer, file):
        answer = client_as(measurer).get(f"/patients/{ivy.pk}/{file}?known_on=soon", follow=True)

        assert answer.redirect_chain == [(f"/patients/{ivy.pk}/timeline/?known_on=soon", 302)]
        assert "is not a date we can read" in answer.content.decode()

    @pytest.mark.parametrize(
        ("typed", "words"), [("2999-01-01", "still to come"), ("soon", "is not a date we can read")]
    )
    def test_a_day_that_is_none_is_refused_at_the_field_and_keeps_the_record_of_today(
        self, text_of, typed, words
    ):
        page = text_of(f"timeline/?known_on={typed}")

        assert words in page
        assert f'value="{typed}"' in page
        assert "70 mmHg" in page

    def test_the_trail_tells_which_day_was_looked_at(self, text_of):
        text_of("timeline-pressures.svg?known_on=2025-05-01")

        row = TrailRow.objects.order_by("pk").last()
        assert row.action == "limb timeline figure taken as SVG"
        assert "2025-05-01" in row.details_json

    def test_the_two_exams_shown_first_are_the_newest_and_any_can_be_chosen(self, text_of, ivy):
        newest, before = ivy.exams.order_by("-first_inflation_at")
        page = text_of("timeline/two/")

        assert f'<option value="{newest.pk}" selected>' in page
        assert "Within noise: −14 mmHg" in page
        # In whichever order they are chosen, the older stands first.
        assert "Within noise: −14 mmHg" in text_of(f"timeline/two/?earlier={newest.pk}&later={before.pk}")

    def test_the_same_exam_twice_is_refused_at_the_field(self, text_of, ivy):
        number = ivy.exams.first().pk

        assert "Both are the same exam." in text_of(f"timeline/two/?earlier={number}&later={number}")


@pytest.mark.django_db
class TestPages:
    def test_the_summary_says_where_each_limb_stands_what_changed_and_what_waits(
        self, measurer, ivy, text_of
    ):
        whole_exam(measurer, ivy, at=clock.now() - timedelta(days=500), right_hallux=80)

        page = text_of("limbs/")

        assert page.index("RIGHT</h2>") < page.index("LEFT</h2>")
        assert page.count('class="ladder"') == 2
        assert "Toe pressure: 80 mmHg on" in page
        assert "older than a year. Measure again" in page
        assert "has no report yet." in page

    def test_the_summary_of_a_patient_without_exams_says_so_for_each_limb(self, text_of):
        page = text_of("limbs/")

        assert "RIGHT foot: nothing measured yet." in page
        assert page.count("Pressures: never measured.") == 2

    @pytest.mark.parametrize("page", ["limbs/", "timeline/two/", "timeline/?known_on=2025-06-01"])
    def test_fifty_exams_cost_as_many_queries_as_two(self, client_as, measurer, ivy, page):
        whole_exam(measurer, ivy, at=SPRING)
        exam = whole_exam(measurer, ivy, at=SUMMER)
        client = client_as(measurer)
        client.get(f"/patients/{ivy.pk}/{page}")
        with CaptureQueriesContext(connection) as two:
            client.get(f"/patients/{ivy.pk}/{page}")
        copies_of(exam, 48)
        client.get(f"/patients/{ivy.pk}/{page}")

        with CaptureQueriesContext(connection) as fifty:
            client.get(f"/patients/{ivy.pk}/{page}")

        assert len(fifty) == len(two)
