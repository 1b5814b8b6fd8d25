"""From a letter's frozen content to its PDF, by the printer of the reports."""

from datetime import UTC, datetime

from django.template.loader import render_to_string

from reports.documents.render import Printed, printed
from reports.letters.content import LetterContent


def page(content: LetterContent, made_at: datetime) -> str:
    """The letter as one HTML page; every typed text in it is escaped."""
    made = made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return render_to_string("letters/letter.html", {"letter": content, "made": made})


def pdf(content: LetterContent, identifier: str, made_at: datetime) -> Printed:
    """The letter as a PDF; the same content, identifier and date give the same bytes."""
    return printed(page(content, made_at), identifier)
