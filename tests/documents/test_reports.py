"""Making, rendering and handing out a report, on the record as people made it."""

import hashlib
from datetime import UTC, datetime

import pytest
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.urls import reverse

from access import clock
from access.models import TrailRow
from access.permissions import NotHere
from exams.hemodynamics import Side
from exams.patients.services import record_limb_fact
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import (
    close_hand_over,
    finish_measuring,
    record_attempt,
    reopen,
)
from jobs import services as jobs
from jobs.models import Job
from reports.documents import queries, services
from reports.documents.models import Document
from tests.build import exam_with, new_patient, whole_exam
from tests.documents.make import correct, make, rendered, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def exam(measurer):
    return whole_exam(measurer, left_hallux=54)


@pytest.fixture
def unmeasured(measurer):
    return exam_with(measurer, arm_right=140)


def kept_files(exam) -> set[str]:
    """Every file of the clinic's reports; other tests' files lie there too."""
    folder = f"documents/{exam.clinic_id}"
    if not default_storage.exists(folder):
        return set()
    return {f"{folder}/{name}" for name in default_storage.listdir(folder)[1]}


def actions() -> list[str]:
    return list(TrailRow.objects.order_by("pk").values_list("action", flat=True))


class TestMaking:
    def test_a_report_is_frozen_with_its_number_and_waits_for_a_worker(self, exam, measurer):
        document = make(exam, measurer)

        assert (document.number, document.status, document.created_as) == (1, "preliminary", "measurer")
        assert (document.job.state, document.job.numbers) == ("waiting", {"document": document.pk})
        assert not document.is_ready

    def test_the_drafted_conclusion_is_kept_beside_the_edited_one(self, exam, measurer):
        document = make(exam, measurer, "RIGHT and LEFT: as last year.")

        assert document.conclusion == "RIGHT and LEFT: as last year."
        assert "RIGHT" in document.conclusion_drafted
        assert document.conclusion_drafted != document.conclusion

    def test_a_new_report_takes_the_next_number_and_leaves_the_first_as_it_was(self, exam, measurer):
        first = rendered(exam, measurer)
        before = (first.content, first.pdf_sha256)

        second = make(exam, measurer, "RIGHT and LEFT: reworded.")

        first.refresh_from_db()
        assert (second.number, second.supersedes) == (2, first)
        assert (first.content, first.pdf_sha256) == before
        assert queries.document_page(measurer, first.pk).newer == 2

    def test_an_exam_that_is_not_measured_gets_no_report(self, measurer, unmeasured):
        draft = queries.draft_for(measurer, unmeasured.pk)

        with pytest.raises(ValidationError, match="a report can be made once it is measured"):
            services.make_report(
                exam=unmeasured, conclusion="RIGHT, LEFT", drafted="", seen=draft.seen, by=measurer
            )

    def test_a_conclusion_about_values_since_corrected_is_refused(self, exam, measurer):
        draft = queries.draft_for(measurer, exam.pk)
        correct(exam, "left_hallux", "45", measurer)

        with pytest.raises(ValidationError, match="The findings changed while you wrote"):
            services.make_report(
                exam=exam, conclusion="RIGHT, LEFT", drafted="", seen=draft.seen, by=measurer
            )

        assert not Document.objects.exists()
        assert not Job.objects.exists()

    def test_a_report_says_when_the_exam_has_moved_on(self, exam, measurer):
        document = make(exam, measurer)
        assert not queries.document_page(measurer, document.pk).outdated

        correct(exam, "left_hallux", "45", measurer)

        assert queries.document_page(measurer, document.pk).outdated

    def test_the_same_request_sent_twice_makes_one_report(self, exam, measurer, client_as):
        browser, address = client_as(measurer), reverse("documents:make", args=[exam.pk])
        seen = queries.draft_for(measurer, exam.pk).seen
        typed = {"conclusion": "RIGHT and LEFT.", "seen": seen, "after": "0"}

        first, second = browser.post(address, typed), browser.post(address, typed)

        assert first.headers["Location"] == second.headers["Location"]
        assert Document.objects.count() == 1
        assert Job.objects.count() == 1

    def test_a_report_somebody_else_made_meanwhile_is_named_before_another_is_made(
        self, exam, measurer, reporter, client_as
    ):
        browser, address = client_as(reporter), reverse("documents:make", args=[exam.pk])
        seen = queries.draft_for(reporter, exam.pk).seen
        make(exam, measurer)

        answer = browser.post(address, {"conclusion": "RIGHT and LEFT, mine.", "seen": seen, "after": "0"})

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "Meanwhile Mina Measurer made report 1 of this exam." in page
        assert "RIGHT and LEFT, mine." in page
        again = {"conclusion": "RIGHT and LEFT, mine.", "seen": seen, "after": "1"}
        assert browser.post(address, again).status_code == 302

    def test_the_wound_team_reads_reports_and_makes_none(self, exam, measurer, wound_nurse, client_as):
        document = make(exam, measurer)
        nurse = client_as(wound_nurse)

        assert nurse.get(reverse("documents:document", args=[document.pk])).status_code == 200
        assert nurse.get(reverse("documents:make", args=[exam.pk])).status_code == 403


class TestRendering:
    def test_the_pdf_says_what_the_findings_say(self, exam, measurer):
        document = rendered(exam, measurer)
        text = text_of(document)
        found = stored_interpretation(exam)
        shown = [
            one.shown
            for one in found.findings
            if one.limb is not None and not one.measure.startswith("toe_skin") and one.shown
        ]

        assert shown
        assert [words for words in shown if words not in text] == []
        assert found.criteria_hash in text

    def test_a_sentence_of_the_criteria_is_printed_once_and_stays_when_the_conclusion_leaves_it_out(
        self, exam, measurer
    ):
        sentence = stored_interpretation(exam).of("pattern", Side.RIGHT).sentence
        drafted, edited = (
            queries.report_content(
                exam=exam, conclusion=words, number=1, supersedes=None, role="measurer", by=measurer
            )
            for words in (f"{sentence} Seen again in spring.", "RIGHT and LEFT: see the findings.")
        )

        assert [one.words for one in drafted.statements].count(sentence) == 0
        assert [one.words for one in edited.statements].count(sentence) == 1

    def test_the_file_is_the_one_whose_checksum_is_kept(self, exam, measurer):
        document = rendered(exam, measurer)

        with document.pdf.open("rb") as file:
            assert hashlib.sha256(file.read()).hexdigest() == document.pdf_sha256
        assert document.pages >= 2
        assert "Alder" not in document.pdf.name

    def test_the_exam_is_reported_once_its_pdf_exists(self, exam, measurer):
        document = make(exam, measurer)
        exam.refresh_from_db()
        assert exam.state == "measured"

        services.render_report(document=document, by=measurer)

        exam.refresh_from_db()
        assert exam.state == "reported"

    def test_rendering_twice_is_as_rendering_once(self, exam, measurer):
        document = rendered(exam, measurer)
        once = (document.pdf.name, document.pdf_sha256, document.rendered_at)

        again = services.render_report(document=document, by=measurer)

        assert (again.pdf.name, again.pdf_sha256, again.rendered_at) == once
        assert actions().count("report rendered") == 1

    def test_of_two_workers_at_once_the_first_ones_file_stays_and_no_other(self, exam, measurer):
        document = make(exam, measurer)
        slow = Document.objects.get(pk=document.pk)
        before = kept_files(exam)
        first = services.render_report(document=document, by=measurer)

        second = services.render_report(document=slow, by=measurer)

        assert second.pdf.name == first.pdf.name
        assert kept_files(exam) - before == {first.pdf.name}

    def test_a_report_whose_exam_was_opened_again_leaves_neither_file_nor_row_halfway(self, exam, measurer):
        document = make(exam, measurer)
        reopen(exam=exam, because="one more value", by=measurer)
        before = kept_files(exam)

        with pytest.raises(ValidationError):
            services.render_report(document=document, by=measurer)

        document.refresh_from_db()
        assert not document.pdf
        assert kept_files(exam) == before

    def test_findings_corrected_before_the_worker_came_are_not_printed_as_they_were(self, exam, measurer):
        document = make(exam, measurer)
        correct(exam, "left_hallux", "45", measurer)

        with pytest.raises(ValidationError, match="Make a new report"):
            services.render_report(document=document, by=measurer)

        exam.refresh_from_db()
        assert exam.state == "measured"

    def test_a_wound_recorded_before_the_worker_came_does_not_stop_what_was_asked_for(self, measurer):
        exam = whole_exam(measurer, left_hallux=45)
        document = make(exam, measurer)
        record_limb_fact(
            patient=exam.patient,
            side="left",
            kind="open_wound",
            started_on=exam.booked_for.date(),
            source="seen",
            by=measurer,
        )

        services.render_report(document=document, by=measurer)

        page = queries.document_page(measurer, document.pk)
        assert page.document.is_ready
        assert page.outdated

    def test_content_changed_in_the_store_is_not_printed(self, exam, measurer):
        document = make(exam, measurer)
        document.content["conclusion"] = "RIGHT and LEFT: no disease."

        with pytest.raises(ValidationError, match="does not match its checksum"):
            services.render_report(document=document, by=measurer)

    def test_a_correction_stands_struck_with_its_reason(self, exam, measurer):
        correct(exam, "left_hallux", "45", measurer)

        document = rendered(exam, measurer)

        rows = [
            row for row in document.content["readings"] if (row["side"], row["site"]) == ("LEFT", "hallux")
        ]
        assert [(row["shown"], row["struck"]) for row in rows] == [("54 mmHg", True), ("45 mmHg", False)]
        assert "replaced by Mina Measurer: digits swapped" in text_of(document)

    def test_the_job_ends_done_with_a_link_to_the_report(self, exam, measurer):
        document = make(exam, measurer)

        jobs.run(document.job_id)

        document.refresh_from_db()
        assert document.is_ready
        assert document.job.state == "done"
        assert document.job.result == {"open": reverse("documents:document", args=[document.pk])}

    def test_a_job_that_cannot_end_says_why_in_words_and_can_be_tried_again(self, exam, measurer):
        document = make(exam, measurer)
        reopen(exam=exam, because="one more value", by=measurer)
        jobs.run(document.job_id)
        job = Job.objects.get(pk=document.job_id)
        assert (job.state, job.reason) == (
            "failed",
            "This exam is measuring. Finish measuring first. Nothing was changed.",
        )

        finish_measuring(exam=exam, by=measurer)
        jobs.run(jobs.try_again(job, measurer).pk)

        document.refresh_from_db()
        assert document.is_ready


class TestComparison:
    def test_a_first_exam_has_nothing_to_compare_with(self, exam, measurer):
        assert "No earlier value of this limb to compare with." in text_of(rendered(exam, measurer))

    def test_a_later_exam_names_the_earlier_value_and_its_day_and_draws_the_trend(self, measurer):
        patient = new_patient(measurer)
        whole_exam(measurer, patient, at=datetime(2025, 3, 3, 10, tzinfo=UTC), left_hallux=60)
        later = whole_exam(measurer, patient, at=datetime(2026, 3, 3, 10, tzinfo=UTC), left_hallux=54)

        text = text_of(rendered(later, measurer))

        assert "60 mmHg on 3 Mar 2025" in text
        assert "Over the years" in text

    def test_the_report_of_an_old_exam_knows_nothing_of_a_later_one(self, measurer):
        patient = new_patient(measurer)
        old = whole_exam(measurer, patient, at=datetime(2025, 3, 3, 10, tzinfo=UTC), left_hallux=60)
        whole_exam(measurer, patient, at=datetime(2026, 3, 3, 10, tzinfo=UTC), left_hallux=54)

        document = make(old, measurer)

        days = {
            point["on"]
            for panel in document.content["trend"]
            for series in panel["series"]
            for point in series["points"]
        }
        assert days == {"2025-03-03"}


class TestPages:
    def test_the_page_offers_the_drafted_conclusion_and_the_figures(self, exam, measurer, client_as):
        page = client_as(measurer).get(reverse("documents:make", args=[exam.pk])).content.decode()

        assert queries.draft_for(measurer, exam.pk).drafted.splitlines()[0] in page
        assert "RIGHT pressure ladder" in page

    def test_an_edited_conclusion_makes_a_report_and_leads_to_its_page(self, exam, measurer, client_as):
        browser = client_as(measurer)
        seen = queries.draft_for(measurer, exam.pk).seen

        answer = browser.post(
            reverse("documents:make", args=[exam.pk]),
            {"conclusion": "RIGHT normal.\r\nLEFT toe reduced.", "seen": seen},
        )

        document = Document.objects.get()
        assert answer.headers["Location"] == reverse("documents:document", args=[document.pk])
        assert document.conclusion == "RIGHT normal.\nLEFT toe reduced."

    def test_an_empty_conclusion_is_asked_for(self, exam, measurer, client_as):
        answer = client_as(measurer).post(reverse("documents:make", args=[exam.pk]), {"conclusion": " "})

        assert answer.status_code == 422
        assert "Write a conclusion" in answer.content.decode()

    def test_a_page_that_comes_back_spoilt_keeps_the_text_and_says_so(self, exam, measurer, client_as):
        typed = {"conclusion": "RIGHT and LEFT.", "seen": "\x00", "after": "soon"}

        answer = client_as(measurer).post(reverse("documents:make", args=[exam.pk]), typed)

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "The page did not come back whole." in page
        assert "RIGHT and LEFT." in page

    def test_a_limb_left_out_is_remarked_and_the_report_made_once_that_was_read(
        self, exam, measurer, client_as
    ):
        browser, address = client_as(measurer), reverse("documents:make", args=[exam.pk])
        typed = {"conclusion": "LEFT toe reduced.", "seen": queries.draft_for(measurer, exam.pk).seen}

        answer = browser.post(address, typed)
        again = browser.post(address, {**typed, "remarks_read": "yes"})

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "RIGHT was measured, but the conclusion does not speak of it." in page
        assert "LEFT toe reduced." in page
        assert again.status_code == 302

    def test_changed_findings_keep_the_typed_text_and_let_the_next_try_through(
        self, exam, measurer, client_as
    ):
        browser, address = client_as(measurer), reverse("documents:make", args=[exam.pk])
        typed = {"conclusion": "RIGHT and LEFT as typed.", "seen": queries.draft_for(measurer, exam.pk).seen}
        correct(exam, "left_hallux", "45", measurer)

        answer = browser.post(address, typed)

        page = answer.content.decode()
        assert answer.status_code == 422
        assert "RIGHT and LEFT as typed." in page
        assert queries.draft_for(measurer, exam.pk).seen in page

    def test_the_pdf_is_handed_out_under_a_name_without_a_person_and_leaves_a_line(
        self, exam, measurer, client_as
    ):
        document = rendered(exam, measurer)

        answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

        assert answer.headers["Content-Type"] == "application/pdf"
        assert answer.headers["Content-Disposition"] == (
            f'attachment; filename="exam-{exam.pk}-report-1.pdf"'
        )
        assert hashlib.sha256(answer.content).hexdigest() == document.pdf_sha256
        assert actions()[-1] == "report downloaded"

    def test_a_report_not_rendered_yet_says_so(self, exam, measurer, client_as):
        document = make(exam, measurer)

        answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

        assert answer.status_code == 409
        assert "not rendered yet" in answer.content.decode()

    def test_a_file_changed_on_the_disk_is_not_handed_out(self, exam, measurer, client_as):
        document = rendered(exam, measurer)
        with default_storage.open(document.pdf.name, "ab") as file:
            file.write(b"x")

        answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

        assert answer.status_code == 409
        assert "not the one that was rendered" in answer.content.decode()

    def test_another_clinics_report_is_not_found(self, exam, measurer, outsider, client_as):
        document = rendered(exam, measurer)
        browser = client_as(outsider)

        assert browser.get(reverse("documents:document", args=[document.pk])).status_code == 404
        assert browser.get(reverse("documents:pdf", args=[document.pk])).status_code == 404
        assert browser.get(reverse("documents:make", args=[exam.pk])).status_code == 404
        with pytest.raises(NotHere):
            services.render_report(document=document, by=outsider)

    def test_the_list_names_what_waits_and_what_was_made(self, exam, measurer, client_as):
        made = rendered(whole_exam(measurer), measurer)

        page = client_as(measurer).get(reverse("documents:list")).content.decode()

        assert reverse("documents:make", args=[exam.pk]) in page
        assert reverse("documents:pdf", args=[made.pk]) in page

    def test_the_list_costs_the_same_for_one_report_and_for_many(
        self, measurer, client_as, django_assert_max_num_queries
    ):
        browser = client_as(measurer)
        whole_exam(measurer)
        make(whole_exam(measurer), measurer)
        with django_assert_max_num_queries(100) as few:
            browser.get(reverse("documents:list"))
        for _ in range(4):
            make(whole_exam(measurer), measurer)

        with django_assert_max_num_queries(len(few)):
            browser.get(reverse("documents:list"))

    def test_making_a_report_costs_the_same_after_one_exam_and_after_many(
        self, measurer, client_as, django_assert_max_num_queries
    ):
        browser = client_as(measurer)
        patient = new_patient(measurer)
        exams = [
            whole_exam(measurer, patient, at=datetime(year, 3, 3, 10, tzinfo=UTC))
            for year in range(2020, 2026)
        ]

        def asked(exam):
            typed = {"conclusion": "RIGHT and LEFT.", "seen": queries.draft_for(measurer, exam.pk).seen}
            return browser.post(reverse("documents:make", args=[exam.pk]), typed)

        with django_assert_max_num_queries(100) as first:
            assert asked(exams[0]).status_code == 302
        with django_assert_max_num_queries(len(first)):
            assert asked(exams[5]).status_code == 302

    def test_an_urgent_result_nobody_was_told_of_is_shown_before_and_printed(self, measurer, client_as):
        exam = whole_exam(measurer, right_hallux=24)

        page = client_as(measurer).get(reverse("documents:make", args=[exam.pk])).content.decode()

        assert "A person must be told." in page
        text = text_of(rendered(exam, measurer))
        assert "RIGHT: a person must be told" in text
        assert "NOT YET HANDED OVER" in text

    def test_a_hand_over_is_printed_with_every_try_who_was_told_and_what_was_read_back(self, measurer):
        exam = whole_exam(measurer, right_hallux=24)
        slip = exam.hand_overs.get()
        record_attempt(
            slip=slip,
            whom="ward desk",
            number="00000 300 200",
            outcome="nobody answered",
            tried_at=clock.now(),
            by=measurer,
        )
        close_hand_over(
            slip=slip,
            told_name="Dr P. Plainname",
            told_role="vascular surgeon",
            told_number="00000 300 300",
            told_by=measurer.user,
            told_at=clock.now(),
            read_back="RIGHT toe twenty-four",
            agreed="seen at two today",
            patient_told="yes",
            by=measurer,
        )

        text = text_of(rendered(exam, measurer))

        assert "RIGHT: a person was told" in text
        assert "Handed over." in text
        assert "ward desk 00000 300 200: nobody answered" in text
        assert "Told Dr P. Plainname, vascular surgeon, 00000 300 300" in text
        assert "Read back RIGHT toe twenty-four" in text
        assert "Agreed seen at two today" in text

    def test_the_exam_leads_to_its_newest_report(self, exam, measurer, client_as):
        browser = client_as(measurer)
        address = reverse("documents:exam", args=[exam.pk])

        assert browser.get(address).headers["Location"] == reverse("documents:make", args=[exam.pk])
        make(exam, measurer)
        newest = make(exam, measurer)
        assert browser.get(address).headers["Location"] == reverse("documents:document", args=[newest.pk])
