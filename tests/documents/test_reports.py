"""Making a report on the record as people made it: what is frozen, what is refused, what it compares with."""

from datetime import UTC, datetime

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from jobs.models import Job
from reports.documents import queries, services
from reports.documents.models import Document
from tests.build import new_patient, whole_exam
from tests.documents.make import correct, make, rendered, text_of

pytestmark = pytest.mark.django_db


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
