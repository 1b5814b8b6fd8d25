"""The pages of reports: the list, the conclusion, one report, its PDF."""

import hashlib
from datetime import UTC, datetime

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse

from access import clock
from access.permissions import NotHere
from exams.visits.services import (
    close_hand_over,
    record_attempt,
)
from reports.documents import queries, services
from reports.documents.models import Document
from tests.build import new_patient, whole_exam
from tests.documents.make import actions, correct, make, rendered, text_of

pytestmark = pytest.mark.django_db


def test_the_page_offers_the_drafted_conclusion_and_the_figures(exam, measurer, client_as):
    page = client_as(measurer).get(reverse("documents:make", args=[exam.pk])).content.decode()

    assert queries.draft_for(measurer, exam.pk).drafted.splitlines()[0] in page
    assert "RIGHT pressure ladder" in page


def test_an_edited_conclusion_makes_a_report_and_leads_to_its_page(exam, measurer, client_as):
    browser = client_as(measurer)
    seen = queries.draft_for(measurer, exam.pk).seen

    answer = browser.post(
        reverse("documents:make", args=[exam.pk]),
        {"conclusion": "RIGHT normal.\r\nLEFT toe reduced.", "seen": seen},
    )

    document = Document.objects.get()
    assert answer.headers["Location"] == reverse("documents:document", args=[document.pk])
    assert document.conclusion == "RIGHT normal.\nLEFT toe reduced."


def test_an_empty_conclusion_is_asked_for(exam, measurer, client_as):
    answer = client_as(measurer).post(reverse("documents:make", args=[exam.pk]), {"conclusion": " "})

    assert answer.status_code == 422
    assert "Write a conclusion" in answer.content.decode()


def test_a_page_that_comes_back_spoilt_keeps_the_text_and_says_so(exam, measurer, client_as):
    typed = {"conclusion": "RIGHT and LEFT.", "seen": "\x00", "after": "soon"}

    answer = client_as(measurer).post(reverse("documents:make", args=[exam.pk]), typed)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "The page did not come back whole." in page
    assert "RIGHT and LEFT." in page


def test_a_limb_left_out_is_remarked_and_the_report_made_once_that_was_read(exam, measurer, client_as):
    browser, address = client_as(measurer), reverse("documents:make", args=[exam.pk])
    typed = {"conclusion": "LEFT toe reduced.", "seen": queries.draft_for(measurer, exam.pk).seen}

    answer = browser.post(address, typed)
    again = browser.post(address, {**typed, "remarks_read": "yes"})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "RIGHT was measured, but the conclusion does not speak of it." in page
    assert "LEFT toe reduced." in page
    assert again.status_code == 302


def test_changed_findings_keep_the_typed_text_and_let_the_next_try_through(exam, measurer, client_as):
    browser, address = client_as(measurer), reverse("documents:make", args=[exam.pk])
    typed = {"conclusion": "RIGHT and LEFT as typed.", "seen": queries.draft_for(measurer, exam.pk).seen}
    correct(exam, "left_hallux", "45", measurer)

    answer = browser.post(address, typed)

    page = answer.content.decode()
    assert answer.status_code == 422
    assert "RIGHT and LEFT as typed." in page
    assert queries.draft_for(measurer, exam.pk).seen in page


def test_the_pdf_is_handed_out_under_a_name_without_a_person_and_leaves_a_line(exam, measurer, client_as):
    document = rendered(exam, measurer)

    answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == (f'attachment; filename="exam-{exam.pk}-report-1.pdf"')
    assert hashlib.sha256(answer.content).hexdigest() == document.pdf_sha256
    assert actions()[-1] == "report downloaded"


def test_a_report_not_rendered_yet_says_so(exam, measurer, client_as):
    document = make(exam, measurer)

    answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

    assert answer.status_code == 409
    assert "not rendered yet" in answer.content.decode()


def test_a_file_changed_on_the_disk_is_not_handed_out(exam, measurer, client_as):
    document = rendered(exam, measurer)
    with default_storage.open(document.pdf.name, "ab") as file:
        file.write(b"x")

    answer = client_as(measurer).get(reverse("documents:pdf", args=[document.pk]))

    assert answer.status_code == 409
    assert "not the one that was rendered" in answer.content.decode()


def test_another_clinics_report_is_not_found(exam, measurer, outsider, client_as):
    document = rendered(exam, measurer)
    browser = client_as(outsider)

    assert browser.get(reverse("documents:document", args=[document.pk])).status_code == 404
    assert browser.get(reverse("documents:pdf", args=[document.pk])).status_code == 404
    assert browser.get(reverse("documents:make", args=[exam.pk])).status_code == 404
    with pytest.raises(NotHere):
        services.render_report(document=document, by=outsider)


def test_the_list_names_what_waits_and_what_was_made(exam, measurer, client_as):
    made = rendered(whole_exam(measurer), measurer)

    page = client_as(measurer).get(reverse("documents:list")).content.decode()

    assert reverse("documents:make", args=[exam.pk]) in page
    assert reverse("documents:pdf", args=[made.pk]) in page


def test_what_waits_says_since_when(measurer, client_as):
    whole_exam(measurer, at=datetime(2026, 3, 2, 9, 30, tzinfo=UTC))

    with clock.at(datetime(2026, 3, 5, 9, 30, tzinfo=UTC)):
        page = client_as(measurer).get(reverse("documents:list")).content.decode()

    assert "1 measured exam waits for a report, the first since 2 Mar 2026." in page
    assert "2 Mar 2026, 09:30" in page
    assert "3\xa0days" in page


def test_the_list_offers_no_second_report_while_one_is_printed(exam, measurer, client_as):
    make(exam, measurer)

    page = client_as(measurer).get(reverse("documents:list")).content.decode()

    assert reverse("documents:make", args=[exam.pk]) not in page


def test_the_list_costs_the_same_for_one_report_and_for_many(
    measurer, client_as, django_assert_max_num_queries
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
    measurer, client_as, django_assert_max_num_queries
):
    browser = client_as(measurer)
    patient = new_patient(measurer)
    exams = [
        whole_exam(measurer, patient, at=datetime(year, 3, 3, 10, tzinfo=UTC)) for year in range(2020, 2026)
    ]

    def asked(exam):
        typed = {"conclusion": "RIGHT and LEFT.", "seen": queries.draft_for(measurer, exam.pk).seen}
        return browser.post(reverse("documents:make", args=[exam.pk]), typed)

    with django_assert_max_num_queries(100) as first:
        assert asked(exams[0]).status_code == 302
    with django_assert_max_num_queries(len(first)):
        assert asked(exams[5]).status_code == 302


def test_an_urgent_result_nobody_was_told_of_is_shown_before_and_printed(measurer, client_as):
    exam = whole_exam(measurer, right_hallux=24)

    page = client_as(measurer).get(reverse("documents:make", args=[exam.pk])).content.decode()

    assert "A person must be told." in page
    text = text_of(rendered(exam, measurer))
    assert "RIGHT: a person must be told" in text
    assert "NOT YET HANDED OVER" in text


def test_a_hand_over_is_printed_with_every_try_who_was_told_and_what_was_read_back(measurer):
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


def test_the_exam_leads_to_its_newest_report(exam, measurer, client_as):
    browser = client_as(measurer)
    address = reverse("documents:exam", args=[exam.pk])

    assert browser.get(address).headers["Location"] == reverse("documents:make", args=[exam.pk])
    make(exam, measurer)
    newest = make(exam, measurer)
    assert browser.get(address).headers["Location"] == reverse("documents:document", args=[newest.pk])
