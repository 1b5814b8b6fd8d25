"""What changes reports: one is made, its PDF is rendered, it is downloaded. None is ever altered."""

import hashlib
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES
from exams.visits.queries.results import stored_interpretation
from exams.visits.services import mark_reported
from exams.visits.services.acts import held
from jobs import services as jobs
from reports.documents.content import content_hash, freeze, thaw
from reports.documents.models import Document
from reports.documents.queries import findings_mark, numbers_changed, report_content
from reports.documents.stored import as_printed, store_once

if TYPE_CHECKING:
    from reports.documents.render import Printed

RENDER = "PDF of an exam report"


@one_act()
def make_report(
    *, exam: Exam, conclusion: str, drafted: str, seen: str, by: Person, after: int = 0
) -> Document:
    """Freeze what the report of an exam says and ask for its PDF.

    Parameters
    ----------
    exam : Exam
    conclusion, drafted : str
        As edited by the person, and as the software proposed it.
    seen : str
        The mark of the findings the person was looking at (`queries.findings_mark`).
    after : int
        The number of the newest report the person saw, 0 for none. The same request twice makes one report.

    Raises
    ------
    ValidationError
        Where the exam is not measured, its findings changed while the conclusion was written, or somebody
        made a report of it meanwhile.
    """
    role = require(by, "make report", exam)
    exam = held(exam)
    if exam.state not in DONE_STATES:
        raise ValidationError(
            f"This exam is {exam.get_state_display()}: a report can be made once it is measured. "
            "Your conclusion is kept below."
        )
    if findings_mark(stored_interpretation(exam)) != seen:
        raise ValidationError(
            "The findings changed while you wrote: a reading was corrected or a fact of a limb recorded. "
            "Your conclusion is kept below; read the findings again, then make the report."
        )
    before = Document.objects.filter(exam=exam).select_related("created_by").order_by("-number").first()
    if before is not None and before.number != after:
        if before.created_by == by.user and before.conclusion == conclusion and before.number == after + 1:
            return before
        raise ValidationError(
            f"Meanwhile {before.created_by.full_name} made report {before.number} of this exam. "
            "Your conclusion is kept below; read that report, then make yours if it is still needed."
        )
    number = before.number + 1 if before else 1
    content = freeze(
        report_content(
            exam=exam,
            conclusion=conclusion,
            number=number,
            supersedes=before.number if before else None,
            role=role,
            by=by,
        )
    )
    document = Document(
        exam=exam,
        clinic=exam.clinic,
        number=number,
        supersedes=before,
        conclusion_drafted=drafted,
        conclusion=conclusion,
        content=content,
        content_sha256=content_hash(content),
        created_at=clock.now(),
        created_by=by.user,
        created_as=role,
    )
    document.full_clean()
    document.save()
    document.job = jobs.start(RENDER, by, {"document": document.pk})
    document.save(update_fields=["job"])
    record(
        by,
        "report made",
        document,
        patient=exam.patient_id,
        details={
            "number": number,
            "conclusion edited": conclusion != drafted,
            "sha256": document.content_sha256,
        },
    )
    return document


def render_report(*, document: Document, by: Person) -> Document:
    """Render a report's PDF and keep it; run twice, or by two workers at once, it ends as if run once.

    Raises
    ------
    ValidationError
        If the stored content was altered, the exam is no longer measured, or a reading was corrected since.
    """
    require(by, "make report", document)
    if document.is_ready:
        return document
    if content_hash(document.content) != document.content_sha256:
        raise ValidationError("The report's stored content does not match its checksum. Make a new report.")
    from reports.documents import render  # the print library: half a second no web process needs

    printed = render.pdf(thaw(document.content), document.content_sha256[:32], document.created_at)
    store_once(
        f"documents/{document.clinic_id}/{document.pk}",
        printed.data,
        lambda name: _keep(document, name, printed, by),
    )
    document.refresh_from_db()
    return document


@one_act()
def _keep(document: Document, name: str, printed: "Printed", by: Person) -> bool:
    """Whether this attempt's file became the report's; false where another attempt was first."""
    kept = Document.objects.filter(pk=document.pk, pdf="").update(
        pdf=name,
        pdf_sha256=hashlib.sha256(printed.data).hexdigest(),
        pages=printed.pages,
        rendered_at=clock.now(),
    )
    if kept:
        mark_reported(exam=document.exam, by=by)
        if numbers_changed(document):
            raise ValidationError(
                "A reading was corrected after this report was asked for, so it was not finished. "
                "Make a new report."
            )
        record(by, "report rendered", document, details={"number": document.number, "pages": printed.pages})
    return bool(kept)


@one_act()
def open_pdf(*, document: Document, by: Person) -> bytes:
    """The PDF's bytes, for a download.

    Raises
    ------
    ValidationError
        If it is not rendered yet, or the file is not the one that was rendered.
    """
    require(by, "see report", document)
    if not document.is_ready:
        raise ValidationError("This report is not rendered yet. Its page says how far it is.")
    data = as_printed(document.pdf, document.pdf_sha256)
    if data is None:
        raise ValidationError(
            "The stored file is not the one that was rendered, so it is not handed out. "
            "Make a new report, and tell your system administrator."
        )
    record(
        by,
        "report downloaded",
        document,
        patient=document.exam.patient_id,
        details={"number": document.number},
    )
    return data
