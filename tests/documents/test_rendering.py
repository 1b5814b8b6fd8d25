"""From a frozen report to its file: one file, the right one, and never of findings corrected since."""

import hashlib

import pytest
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.urls import reverse

from exams.hemodynamics import Side
from exams.patients.services import record_limb_fact
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import (
    finish_measuring,
    reopen,
)
from jobs import services as jobs
from jobs.models import Job
from reports.documents import queries, services
from reports.documents.models import Document
from tests.build import whole_exam
from tests.documents.make import actions, correct, make, rendered, text_of

pytestmark = pytest.mark.django_db


def kept_files(exam) -> set[str]:
    """Every file of the clinic's reports; other tests' files lie there too."""
    folder = f"documents/{exam.clinic_id}"
    if not default_storage.exists(folder):
        return set()
    return {f"{folder}/{name}" for name in default_storage.listdir(folder)[1]}


def test_the_pdf_says_what_the_findings_say(exam, measurer):
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
    exam, measurer
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


def test_the_file_is_the_one_whose_checksum_is_kept(exam, measurer):
    document = rendered(exam, measurer)

    with document.pdf.open("rb") as file:
        assert hashlib.sha256(file.read()).hexdigest() == document.pdf_sha256
    assert document.pages >= 2
    assert "Alder" not in document.pdf.name


def test_the_exam_is_reported_once_its_pdf_exists(exam, measurer):
    document = make(exam, measurer)
    exam.refresh_from_db()
    assert exam.state == "measured"

    services.render_report(document=document, by=measurer)

    exam.refresh_from_db()
    assert exam.state == "reported"


def test_rendering_twice_is_as_rendering_once(exam, measurer):
    document = rendered(exam, measurer)
    once = (document.pdf.name, document.pdf_sha256, document.rendered_at)

    again = services.render_report(document=document, by=measurer)

    assert (again.pdf.name, again.pdf_sha256, again.rendered_at) == once
    assert actions().count("report rendered") == 1


def test_of_two_workers_at_once_the_first_ones_file_stays_and_no_other(exam, measurer):
    document = make(exam, measurer)
    slow = Document.objects.get(pk=document.pk)
    before = kept_files(exam)
    first = services.render_report(document=document, by=measurer)

    second = services.render_report(document=slow, by=measurer)

    assert second.pdf.name == first.pdf.name
    assert kept_files(exam) - before == {first.pdf.name}


def test_a_report_whose_exam_was_opened_again_leaves_neither_file_nor_row_halfway(exam, measurer):
    document = make(exam, measurer)
    reopen(exam=exam, because="one more value", by=measurer)
    before = kept_files(exam)

    with pytest.raises(ValidationError):
        services.render_report(document=document, by=measurer)

    document.refresh_from_db()
    assert not document.pdf
    assert kept_files(exam) == before


def test_findings_corrected_before_the_worker_came_are_not_printed_as_they_were(exam, measurer):
    document = make(exam, measurer)
    correct(exam, "left_hallux", "45", measurer)

    with pytest.raises(ValidationError, match="Make a new report"):
        services.render_report(document=document, by=measurer)

    exam.refresh_from_db()
    assert exam.state == "measured"


def test_a_wound_recorded_before_the_worker_came_does_not_stop_what_was_asked_for(measurer):
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


def test_content_changed_in_the_store_is_not_printed(exam, measurer):
    document = make(exam, measurer)
    document.content["conclusion"] = "RIGHT and LEFT: no disease."

    with pytest.raises(ValidationError, match="does not match its checksum"):
        services.render_report(document=document, by=measurer)


def test_a_correction_stands_struck_with_its_reason(exam, measurer):
    correct(exam, "left_hallux", "45", measurer)

    document = rendered(exam, measurer)

    rows = [row for row in document.content["readings"] if (row["side"], row["site"]) == ("LEFT", "hallux")]
    assert [(row["shown"], row["struck"]) for row in rows] == [("54 mmHg", True), ("45 mmHg", False)]
    assert "replaced by Mina Measurer: digits swapped" in text_of(document)


def test_the_job_ends_done_with_a_link_to_the_report(exam, measurer):
    document = make(exam, measurer)

    jobs.run(document.job_id)

    document.refresh_from_db()
    assert document.is_ready
    assert document.job.state == "done"
    assert document.job.result == {"open": reverse("documents:document", args=[document.pk])}


def test_a_job_that_cannot_end_says_why_in_words_and_can_be_tried_again(exam, measurer):
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
