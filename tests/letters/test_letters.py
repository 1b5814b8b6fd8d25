"""The letter of a referral: written once a sending, printed once, handed out as it was printed."""

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from access.models import TrailRow
from access.permissions import NotHere
from jobs import services as jobs
from jobs.models import Job
from reports.letters import queries, services
from reports.letters.models import ReferralLetter
from tests.build import new_patient
from tests.documents.pdfs import whole_text
from tests.followup.make import referral

pytestmark = pytest.mark.django_db
REASONS = "Toe pressure 24 mmHg, ulcer of the hallux for three weeks.\nPlease see within the day. <b>&"


@pytest.fixture
def letter(wound_nurse):
    patient = new_patient(wound_nurse, family_name="Watermint", given_name="Ines")
    referral(wound_nurse, patient, reasons=REASONS, urgency="at_once", side="left")
    return ReferralLetter.objects.get()


def text_of(letter):
    with letter.pdf.open("rb") as file:
        return whole_text(file.read())


def stored(letter):
    folder = f"letters/{letter.clinic_id}"
    names = default_storage.listdir(folder)[1] if default_storage.exists(folder) else []
    return [name for name in names if name.startswith(f"{letter.pk}-")]


def test_the_job_prints_whom_it_is_about_how_soon_and_why_on_one_page(letter):
    jobs.run(letter.job_id)

    letter.refresh_from_db()
    text = text_of(letter)
    assert letter.pages == 1
    for words in (
        "REFERRAL: at once",
        "Watermint, Ines",
        "LEFT",
        "ulcer of the hallux",
        "<b>&",
        "Alder House",
    ):
        assert words in text
    assert Job.objects.get(pk=letter.job_id).result == {
        "open": f"/letters/referral/{letter.step.referral_id}/"
    }


def test_two_workers_make_one_letter(letter, wound_nurse):
    before = stored(letter)
    first, second = (ReferralLetter.objects.get(pk=letter.pk) for _ in range(2))

    services.render_letter(letter=first, by=wound_nurse)
    services.render_letter(letter=second, by=wound_nurse)

    assert len(stored(letter)) == len(before) + 1
    assert TrailRow.objects.filter(action="referral letter rendered").count() == 1


def test_a_content_that_was_altered_is_not_printed(letter, wound_nurse):
    letter.content["reasons"] = "nothing urgent"
    letter.save()

    with pytest.raises(ValidationError, match="does not match its checksum"):
        services.render_letter(letter=letter, by=wound_nurse)


def test_a_file_that_was_altered_is_not_handed_out(letter, wound_nurse, client_as):
    printed = services.render_letter(letter=letter, by=wound_nurse)
    page = client_as(wound_nurse).get(f"/letters/{letter.pk}/pdf/")
    default_storage.delete(printed.pdf.name)
    default_storage.save(printed.pdf.name, ContentFile(b"%PDF-1.7 another"))

    refused = client_as(wound_nurse).get(f"/letters/{letter.pk}/pdf/")

    assert page.content.startswith(b"%PDF")
    assert "Watermint" not in page.headers["Content-Disposition"]
    assert refused.status_code == 409
    assert "not the one that was rendered" in refused.content.decode()
    assert TrailRow.objects.filter(action="referral letter downloaded").count() == 1


def test_a_letter_whose_file_was_altered_is_made_again_and_no_second_one(letter, wound_nurse, client_as):
    first = services.render_letter(letter=letter, by=wound_nurse)
    was = {"file": first.pdf.name, "sha256": first.pdf_sha256}
    with default_storage.open(was["file"], "wb") as file:
        file.write(b"%PDF-1.7 another")
    browser = client_as(wound_nurse)
    assert "Make the same letter again" in browser.get(f"/letters/{letter.pk}/pdf/").content.decode()

    browser.post(f"/letters/{letter.pk}/again/")
    letter.refresh_from_db()
    jobs.run(letter.job_id)

    letter.refresh_from_db()
    assert (letter.pdf.name != was["file"], letter.pdf_sha256) == (True, was["sha256"])
    assert browser.get(f"/letters/{letter.pk}/pdf/").status_code == 200
    assert ReferralLetter.objects.count() == letter.step.referral.steps.count() == 1
    assert TrailRow.objects.get(action="file of a referral letter found altered").details == was


def test_a_letter_that_stands_as_printed_is_not_made_again(letter, wound_nurse):
    first = services.render_letter(letter=letter, by=wound_nurse)

    again = services.ask_again(letter=first, by=wound_nurse)

    assert again.pdf.name == first.pdf.name
    assert not TrailRow.objects.filter(action__contains="altered").exists()


def test_one_that_failed_is_asked_for_again_and_only_then(letter, wound_nurse):
    services.ask_again(letter=letter, by=wound_nurse)
    assert Job.objects.count() == 1
    Job.objects.update(state="failed", reason="the disk was full", ended_at=letter.created_at)

    services.ask_again(letter=letter, by=wound_nurse)

    letter.refresh_from_db()
    assert Job.objects.count() == 2
    assert letter.job.state == "waiting"


def test_another_clinic_finds_no_letter(letter, outsider):
    with pytest.raises(NotHere):
        queries.letter_for(outsider, letter.pk)
