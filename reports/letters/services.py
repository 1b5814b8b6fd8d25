"""What changes letters: one is written with its referral, rendered, downloaded. None is ever altered."""

import hashlib
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.followup.models import ReferralStep
from jobs import services as jobs
from jobs.models import JobState
from reports.documents.content import content_hash, freeze, thaw_as
from reports.documents.stored import as_printed, store_once
from reports.letters.content import LetterContent
from reports.letters.models import ReferralLetter
from reports.letters.queries import letter_content

if TYPE_CHECKING:
    from reports.documents.render import Printed

RENDER = "PDF of a referral letter"
# The stored file is not the one that was printed.
ALTERED = "altered"


def write_letter(*, step: ReferralStep, by: Person) -> ReferralLetter:
    """Freeze what the letter of a sending says and ask for its PDF; part of the act that sends it."""
    content = freeze(letter_content(step, by))
    letter = ReferralLetter(
        step=step,
        clinic=step.referral.clinic,
        content=content,
        content_sha256=content_hash(content),
        created_at=clock.now(),
        created_by=by.user,
    )
    letter.full_clean()
    letter.save()
    letter.job = jobs.start(RENDER, by, {"letter": letter.pk})
    letter.save(update_fields=["job"])
    record(by, "referral letter written", letter, details={"sha256": letter.content_sha256})
    return letter


@one_act()
def ask_again(*, letter: ReferralLetter, by: Person) -> ReferralLetter:
    """Ask once more for the PDF of a letter whose job failed, or whose stored file is not the one printed.

    It is the same letter, from what was stored when it was sent: no second referral. A file that was altered
    stays where it is; the letter gets another, and the trail keeps the name and hash of the first. Nothing
    happens where a PDF is under way, or stands as it was printed.

    Raises
    ------
    ValidationError
        If the person died meanwhile.
    """
    require(by, "refer", letter)
    letter = ReferralLetter.objects.select_for_update(of=("self",)).get(pk=letter.pk)
    _refuse_dead(letter)
    altered = letter.is_ready and as_printed(letter.pdf, letter.pdf_sha256) is None
    failed = not letter.is_ready and letter.job is not None and letter.job.state == JobState.FAILED
    if not (altered or failed):
        return letter
    was = {"file": letter.pdf.name, "sha256": letter.pdf_sha256} if altered else {}
    letter.pdf, letter.pdf_sha256, letter.pages, letter.rendered_at = "", "", None, None
    letter.job = jobs.start(RENDER, by, {"letter": letter.pk})
    letter.save(update_fields=["pdf", "pdf_sha256", "pages", "rendered_at", "job"])
    what = "file of a referral letter found altered" if altered else "referral letter asked for again"
    record(by, what, letter, details=was)
    return letter


def render_letter(*, letter: ReferralLetter, by: Person) -> ReferralLetter:
    """Render a letter's PDF and keep it; run twice, or by two workers at once, it ends as if run once.

    Raises
    ------
    ValidationError
        If the stored content was altered, or the person died since it was asked for.
    """
    require(by, "refer", letter)
    if letter.is_ready:
        return letter
    _refuse_dead(letter)
    if content_hash(letter.content) != letter.content_sha256:
        raise ValidationError(
            "The letter's stored content does not match its checksum. Tell your administrator."
        )
    from reports.letters import render  # the print library: half a second no web process needs

    content = thaw_as(LetterContent, letter.content)
    printed = render.pdf(content, letter.content_sha256[:32], letter.created_at)
    store_once(
        f"letters/{letter.clinic_id}/{letter.pk}", printed.data, lambda name: _keep(letter, name, printed, by)
    )
    letter.refresh_from_db()
    return letter


@one_act()
def open_pdf(*, letter: ReferralLetter, by: Person) -> bytes:
    """The PDF's bytes, for a download.

    Raises
    ------
    ValidationError
        If it is not rendered yet, or the file is not the one that was rendered.
    """
    require(by, "see patient", letter)
    if not letter.is_ready:
        raise ValidationError("This letter is not rendered yet. Open the page of letters again in a moment.")
    data = as_printed(letter.pdf, letter.pdf_sha256)
    if data is None:
        raise ValidationError(
            "The stored file is not the one that was rendered, so it is not handed out. Have the same letter "
            "made again here, from what was stored when it was sent: no second referral goes out. Tell your "
            "system administrator.",
            code=ALTERED,
        )
    record(by, "referral letter downloaded", letter)
    return data


@one_act()
def _keep(letter: ReferralLetter, name: str, printed: "Printed", by: Person) -> bool:
    """Whether this attempt's file became the letter's; false where another attempt was first."""
    kept = ReferralLetter.objects.filter(pk=letter.pk, pdf="").update(
        pdf=name,
        pdf_sha256=hashlib.sha256(printed.data).hexdigest(),
        pages=printed.pages,
        rendered_at=clock.now(),
    )
    if kept:
        details = {"pages": printed.pages, "sha256": hashlib.sha256(printed.data).hexdigest()}
        record(by, "referral letter rendered", letter, details=details)
    return bool(kept)


def _refuse_dead(letter: ReferralLetter) -> None:
    if letter.step.referral.patient.died_on is not None:
        raise ValidationError("Death is recorded for this person, so the letter was not made.")
