"""Reports as people make and render them."""

from decimal import Decimal

from access.models import TrailRow
from exams.visits.models import Outcome
from exams.visits.services import correct_reading
from exams.visits.typed import TypedReading
from reports.documents import queries, services
from reports.documents.models import Document
from tests.build import reading_at
from tests.documents.pdfs import whole_text


def actions() -> list[str]:
    """What the trail tells, oldest first."""
    return list(TrailRow.objects.order_by("pk").values_list("action", flat=True))


def make(exam, by, conclusion="") -> Document:
    draft = queries.draft_for(by, exam.pk)
    words = conclusion or draft.drafted
    return services.make_report(
        exam=exam,
        conclusion=words,
        drafted=draft.drafted,
        seen=draft.seen,
        after=draft.newest_number,
        by=by,
    )


def rendered(exam, by) -> Document:
    return services.render_report(document=make(exam, by), by=by)


def text_of(document) -> str:
    with document.pdf.open("rb") as file:
        return whole_text(file.read())


def correct(exam, place, mmhg, by):
    reading = reading_at(exam, place)
    value = TypedReading(Outcome.PRESSURE, Decimal(mmhg))
    return correct_reading(
        reading=reading, value=value, technique=reading.technique, reason="digits swapped", by=by
    )
