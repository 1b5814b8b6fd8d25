"""The patient page, the limb timeline and its CSV, as a person of the clinic is served them."""

import csv
from datetime import timedelta
from io import StringIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from access import clock
from access.models import TrailRow
from exams.patients.services import add_caution, record_limb_fact
from exams.traces.services.seeing import keep_seen
from exams.wounds.services import close_wound
from tests.build import booked_exam, exam_with, new_patient, whole_exam
from tests.identity.make import merge
from tests.timeline.many import copies_of
from tests.traces.made import read_recording
from tests.traces.test_marks import mark
from tests.wounds.make import assess, wound

pytestmark = pytest.mark.django_db

PAGES = ["/patients/{}/", "/patients/{}/timeline/", "/patients/{}/timeline.csv"]


def days_ago(days):
    return clock.now() - timedelta(days=days)


@pytest.fixture
def ivy(measurer):
    return new_patient(measurer, given_name="Ivy", family_name="Sampleton")


@pytest.fixture
def page_of(client_as, measurer, ivy):
    """``page_of("timeline/")`` is the text of that page of Ivy's, as a measurer sees it."""

    def text(rest=""):
        return " ".join(client_as(measurer).get(f"/patients/{ivy.pk}/{rest}").content.decode().split())

    return text


def test_the_patient_page_opens_with_one_sentence_a_foot_right_first(measurer, ivy, page_of):
    whole_exam(measurer, ivy, right_hallux=52)

    text = page_of()

    assert "RIGHT</h2>" in text
    assert text.index("RIGHT</h2>") < text.index("toe pressure 52 mmHg") < text.index("LEFT</h2>")


def test_a_result_older_than_a_year_says_so(measurer, ivy, page_of):
    whole_exam(measurer, ivy, at=days_ago(500))

    assert "older than a year: measure again" in page_of()


def test_a_patient_without_exams_is_told_the_first_step(page_of):
    text = page_of()

    assert "RIGHT foot: nothing measured yet." in text
    assert "No exam yet." in text
    assert "New exam today" in text


def test_new_exam_today_opens_the_sheet_in_one_press(client_as, measurer, ivy, page_of):
    client = client_as(measurer)
    typed = page_of().split('name="booked_for" value="')[1].split('"')[0]

    answer = client.post(f"/exams/book/{ivy.pk}/", {"booked_for": typed, "exam_type": "toe_only"})

    assert answer.status_code == 302
    assert answer["Location"].startswith("/exams/")


def test_an_open_hand_over_stands_above_both_feet(measurer, ivy, page_of):
    record_limb_fact(
        patient=ivy,
        side="right",
        kind="open_wound",
        started_on=days_ago(5).date(),
        source="seen",
        by=measurer,
    )
    whole_exam(measurer, ivy, right_hallux=24)

    text = page_of()

    assert text.index("A person must be told.") < text.index("RIGHT</h2>")
    assert "Open wound</strong> since" in text


def test_a_caution_stands_with_its_side(measurer, ivy, page_of):
    add_caution(
        patient=ivy,
        side="left",
        region="arm",
        kind="fistula",
        do_not_inflate=True,
        source="patient",
        by=measurer,
    )

    assert "Do not inflate LEFT arm: dialysis fistula or graft" in page_of()


@pytest.mark.parametrize("page", ["", "limbs/"])
def test_what_is_of_the_whole_person_stands_once(measurer, ivy, page_of, page):
    record_limb_fact(
        patient=ivy, side="", kind="dialysis", started_on=days_ago(90).date(), source="letter", by=measurer
    )

    text = page_of(page)

    assert text.count("ialysis") == 1
    assert "Whole person" in text


def test_the_summary_says_in_one_line_how_an_open_wound_goes(client_as, measurer, wound_nurse, ivy, page_of):
    whole_exam(measurer, ivy, at=days_ago(50), right_hallux=35)
    heel = wound(wound_nurse, ivy, "right:heel_back", began=40)
    closed = wound(wound_nurse, ivy, "left:toe_1_sole", began=40)
    assess(wound_nurse, closed, ago=30)
    assess(wound_nurse, heel, ago=30, length_mm=30, width_mm=20)
    assess(wound_nurse, heel, ago=9, length_mm=20, width_mm=10)
    close_wound(wound=closed, status="healed", closed_on=days_ago(1).date(), by=wound_nurse)

    text = page_of("limbs/")

    then, now = (f"{on.day} {on:%b %Y}" for on in (days_ago(30), days_ago(9)))
    assert f"WIfI stage 3 on {now}, as on {then}; 2.0 cm², 6.0 cm² before." in text
    assert text.count("WIfI stage") == 1
    with CaptureQueriesContext(connection) as asked:
        page_of("limbs/")
    assert sum("wounds_assessment" in one["sql"] for one in asked.captured_queries) == 1


def test_a_merge_is_told_on_the_page_itself(measurer, reporter, ivy, page_of):
    merge(ivy, new_patient(measurer, given_name="Ivie"), reporter)

    assert "was merged into this one" in page_of()


def test_a_booked_exam_is_listed_although_nothing_is_measured(measurer, ivy, page_of):
    booked_exam(measurer, ivy)

    assert ">booked</td>" in page_of()


def test_only_the_newest_exams_are_listed_until_all_are_asked_for(measurer, ivy, page_of):
    copies_of(whole_exam(measurer, ivy), 24)

    assert "The newest 20 of 25 exams" in page_of()
    assert "All 25 exams, newest first" in page_of("?exams=all")


def test_the_timeline_of_a_patient_without_exams_says_what_the_first_one_brings(page_of):
    text = page_of("timeline/")

    assert "The first exam puts the first marks here" in text
    assert "timeline-data" not in text


def test_the_timeline_serves_its_data_as_json_and_no_script_inside_the_page(measurer, ivy, page_of):
    whole_exam(measurer, ivy)

    text = page_of("timeline/")

    assert '<script id="timeline-data" type="application/json">' in text
    assert 'style="' not in text
    assert "https://" not in text.replace('"https://www.w3.org/2000/svg"', "")


def test_a_note_that_is_markup_stays_text_on_the_timeline(measurer, ivy, page_of):
    record_limb_fact(
        patient=ivy,
        side="left",
        kind="open_wound",
        started_on=days_ago(5).date(),
        source="seen",
        note="<script>x</script>",
        by=measurer,
    )
    whole_exam(measurer, ivy)

    assert "<script>x" not in page_of("timeline/")


def test_the_csv_has_a_row_for_each_limb_of_each_exam(client_as, measurer, ivy):
    whole_exam(measurer, ivy, at=days_ago(400))
    whole_exam(measurer, ivy, right_hallux=52)

    answer = client_as(measurer).get(f"/patients/{ivy.pk}/timeline.csv")

    rows = list(csv.DictReader(StringIO(answer.content.decode())))
    assert answer["Content-Type"].startswith("text/csv")
    assert [(row["limb"], row["toe pressure"]) for row in rows] == [
        ("RIGHT", "52"),
        ("RIGHT", "112"),
        ("LEFT", "108"),
        ("LEFT", "108"),
    ]


@pytest.mark.parametrize(
    ("page", "action"),
    [
        ("/patients/{}/", "patient page viewed"),
        ("/patients/{}/timeline/", "limb timeline viewed"),
        ("/patients/{}/timeline.csv", "limb timeline table taken as CSV"),
    ],
)
def test_each_page_leaves_one_line_in_the_trail(client_as, measurer, ivy, page, action):
    whole_exam(measurer, ivy)
    client = client_as(measurer)
    before = TrailRow.objects.count()

    client.get(page.format(ivy.pk))

    assert list(TrailRow.objects.order_by("pk").values_list("action", "patient_id")[before:]) == [
        (action, ivy.pk)
    ]


class TestRecordings:
    """A value that was read from a recording leads to it."""

    @pytest.fixture
    def trace(self, measurer, ivy):
        """The RIGHT hallux at 90 mmHg, marked by the measurer at the desk."""
        trace = read_recording(measurer, exam_with(measurer, ivy, arm_right=140))
        mark(trace, measurer)
        keep_seen(traces=[trace.pk], by=measurer)
        return trace

    def test_the_newest_pressure_leads_to_its_desk_with_its_picture(self, trace, page_of):
        page = page_of()

        assert f'<a href="/traces/{trace.pk}/"><img src="/traces/{trace.pk}/thumbnail.svg" alt=""' in page
        assert page.count("Trace of RIGHT hallux</a>") == 1

    def test_the_timelines_table_leads_to_it_once(self, trace, page_of):
        page = page_of("timeline/")

        assert page.count(f'<a href="/traces/{trace.pk}/">Trace of RIGHT hallux<') == 1

    def test_who_could_still_read_it_blind_is_not_shown_its_picture(
        self, trace, client_as, reporter, wound_nurse, ivy
    ):
        reads, only_looks = (
            client_as(who).get(f"/patients/{ivy.pk}/").content.decode() for who in (reporter, wound_nurse)
        )

        assert ("Trace of RIGHT hallux" in reads, "thumbnail" in reads) == (True, False)
        assert "thumbnail" in only_looks

    @pytest.mark.parametrize("page", PAGES)
    def test_many_cost_as_many_queries_as_one(self, trace, client_as, measurer, ivy, page):
        client = client_as(measurer)
        client.get(page.format(ivy.pk))
        with CaptureQueriesContext(connection) as one:
            client.get(page.format(ivy.pk))
        for site in ("toe_2", "toe_3"):
            mark(read_recording(measurer, trace.exam, site=site), measurer)
        client.get(page.format(ivy.pk))

        with CaptureQueriesContext(connection) as many:
            client.get(page.format(ivy.pk))

        assert len(many) == len(one)


@pytest.mark.parametrize("page", PAGES)
def test_another_clinics_patient_is_not_found(client_as, outsider, ivy, page):
    assert client_as(outsider).get(page.format(ivy.pk)).status_code == 404


@pytest.mark.parametrize("page", PAGES)
def test_who_has_no_care_role_is_refused(client_as, administrator, ivy, page):
    assert client_as(administrator).get(page.format(ivy.pk)).status_code == 403


@pytest.mark.parametrize("page", PAGES)
def test_the_browser_keeps_no_copy(client_as, wound_nurse, ivy, page):
    answer = client_as(wound_nurse).get(page.format(ivy.pk))

    assert "no-store" in answer["Cache-Control"]


@pytest.mark.parametrize("page", PAGES)
def test_two_hundred_exams_cost_as_many_queries_as_one(client_as, measurer, ivy, page):
    exam = whole_exam(measurer, ivy)
    client = client_as(measurer)
    client.get(page.format(ivy.pk))
    with CaptureQueriesContext(
        connection,
    ) as one:
        client.get(page.format(ivy.pk))
    copies_of(exam, 199)
    client.get(page.format(ivy.pk))

    with CaptureQueriesContext(connection) as two_hundred:
        answer = client.get(page.format(ivy.pk))

    assert answer.status_code == 200
    assert len(two_hundred) == len(one)
