"""One day's work from sign-in to the printed report, in a real browser, with a real worker behind it."""

import re
from datetime import timedelta
from io import BytesIO

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from access import clock
from exams.visits.models import Exam
from tests.people import person
from tests.processes import worker
from tests.traces.made import read_recording

PASSWORD = "lock-gate-and-withy-1"

pytestmark = [pytest.mark.browser, pytest.mark.workers, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def podiatrist(clinic):
    who = person("Pia Podiatrist", clinic, "measurer", "reporter")
    who.user.set_password(PASSWORD)
    who.user.save()
    return who


def type_all(page, *texts: str) -> None:
    for text in texts:
        page.keyboard.type(text)
        page.keyboard.press("Enter")


def test_from_sign_in_to_the_printed_report(page_as, accessible, podiatrist):
    page = page_as(None)
    found = []

    def looked_at():
        found.extend(accessible(page))

    page.goto("/")
    looked_at()
    page.get_by_label("Email").fill(podiatrist.user.email)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Today")).to_be_visible()
    looked_at()

    # A new patient, with an open wound on the left foot.
    page.goto("/patients/new/")
    page.get_by_label("Family name").fill("Pondweed")
    page.get_by_label("Given name").fill("Una")
    page.get_by_label("Birth date").fill("4 May 1958")
    page.get_by_role("group", name="Sex").get_by_label("female", exact=True).check()
    for question in ("Diabetes", "Kidney disease", "Neuropathy"):
        page.get_by_role("group", name=question).get_by_label("yes").check()
    page.get_by_role("group", name="Tobacco").get_by_label("never").check()
    looked_at()
    page.get_by_role("button", name="Register this patient").click()
    expect(page.get_by_role("heading", name="Una Pondweed")).to_be_visible()
    looked_at()
    patient_page = page.url
    page.get_by_role("link", name="Facts of the limbs").click()
    page.get_by_role("group", name="Limb").get_by_label("LEFT").check()
    page.get_by_label("What", exact=True).select_option("open_wound")
    page.get_by_label("When, or since when").fill("today")
    page.get_by_label("Who says so").fill("seen today")
    looked_at()
    page.get_by_role("button", name="Record this").click()

    # The exam, by keyboard only.
    page.goto(patient_page)
    page.get_by_role("button", name="Ankles and toes").press("Enter")
    expect(page.get_by_label("How confirmed")).to_be_focused()
    type_all(page, "1")
    expect(page.get_by_role("button", name="Lying flat now")).to_be_focused()
    type_all(page, "")
    expect(page.get_by_label("Reason", exact=True)).to_be_focused()
    type_all(page, "1", "", "")
    expect(page.get_by_role("button", name="Both arms and legs checked")).to_be_focused()
    type_all(page, "")
    expect(page.locator('[id="position"]')).to_be_focused()
    exam = Exam.objects.get()
    _lay_flat_eleven_minutes_ago(exam)

    # The RIGHT hallux was recorded: its mark is put 2 mmHg above the suggestion, by keyboard too.
    read_recording(podiatrist, exam)
    page.wait_for_load_state("networkidle")
    page.goto("/traces/waiting/")
    page.get_by_role("link", name="Begin: RIGHT hallux").press("Enter")
    expect(page.get_by_role("slider", name="Return-of-flow mark")).to_be_focused()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("a")
    expect(page.get_by_text("Kept. RIGHT hallux: 92 mmHg, good, in the exam sheet.")).to_be_visible()
    page.goto(f"/exams/{exam.pk}/")

    # The page that the last step led to must be there whole, or leaving it breaks off its own arrival.
    page.wait_for_load_state("networkidle")
    page.reload(wait_until="load")
    expect(page.locator('[id="position"]')).to_be_focused()
    type_all(page, "1", "31", "30.5", "24", "5")
    type_all(page, "138", "132", "150", "148", "140", "144", "90", "27", "29", "136")
    expect(page.get_by_text("A person must be told").first).to_be_visible()
    looked_at()
    expect(page.get_by_role("button", name="Measured", exact=True)).to_be_focused()
    type_all(page, "")
    expect(page.get_by_text("Measured.").first).to_be_visible()
    looked_at()

    # The urgent value is handed over.
    page.get_by_role("link", name="Open the hand-over slip").click()
    looked_at()
    page.get_by_label("Who was told").fill("Dr Rowan Staithe")
    page.get_by_label("Their role").fill("vascular surgeon on call")
    page.get_by_label("Number called").fill("01555 010 900")
    page.get_by_label("What they read back").fill("LEFT toe 28 with an open wound")
    page.get_by_label("What was agreed").fill("seen tomorrow at nine")
    page.get_by_label("Was the patient told?").select_option("yes")
    page.get_by_role("button", name="Handed over: close the slip").click()
    expect(page.get_by_text("Handed over: Dr Rowan Staithe was told.")).to_be_visible()
    looked_at()

    # A slip of the hand is corrected: both values stay.
    page.goto(f"/exams/{exam.pk}/")
    page.locator('[data-field="right.toe_1.2"]').get_by_role("link", name="Correct").click()
    looked_at()
    page.get_by_label("New value").fill("98")
    page.get_by_label("Why it is corrected").fill("read from the wrong line")
    page.get_by_role("button", name="Put the new value").click()
    expect(page.locator('[data-field="right.toe_1.2"]').locator("s")).to_have_text("90 mmHg")

    # The limb timeline, and the report made by a worker.
    page.goto(f"{patient_page}timeline/")
    expect(page.get_by_role("link", name="Trace of RIGHT hallux")).to_be_visible()
    expect(page.get_by_role("table").first).to_contain_text("95 mmHg")
    looked_at()
    # A busy machine may starve the worker: nobody is to take its work for lost, that is tested elsewhere.
    with worker(VASLAB_JOB_LOST_SECONDS="60"):
        page.goto(f"/exams/{exam.pk}/")
        page.get_by_role("link", name="Report of this exam").click()
        looked_at()
        page.get_by_role("button", name="Make the report").click()
        # The page may be there before the work or after it; the one thing it leads to is the printed report.
        ready, failed = page.get_by_role("link", name="Download the PDF"), page.get_by_text("Not done.")
        expect(ready.or_(failed)).to_be_visible(timeout=120_000)
    expect(ready).to_be_visible()
    looked_at()
    with page.expect_download() as taken:
        page.get_by_role("link", name="Download the PDF").click()
    pages = [one.extract_text() for one in PdfReader(BytesIO(taken.value.path().read_bytes())).pages]

    for number, text in enumerate(pages, start=1):
        assert "Pondweed, Una" in text
        assert "PRELIMINARY: not yet reviewed" in text
        assert re.search(rf"Page {number} of {len(pages)}\b", text)
    whole = " ".join(" ".join(pages).split())
    assert "toe pressure 28 mmHg" in whole
    assert "Dr Rowan Staithe" in whole
    assert "read from the wrong line" in whole
    assert "RIGHT hallux: 92 mmHg Mark 92 mmHg, good Read by Pia Podiatrist" in whole
    assert "Suggested 90 mmHg (86 to 95), by reader version" in whole
    assert found == []


def _lay_flat_eleven_minutes_ago(exam: Exam) -> None:
    """Ten minutes of lying flat pass in no time: the one thing a test cannot wait for."""
    Exam.objects.filter(pk=exam.pk).update(lying_flat_at=clock.now() - timedelta(minutes=11))
