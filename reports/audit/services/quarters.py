"""A quarter in print: its figures frozen, its PDF made by a job, handed out unchanged."""

import hashlib
import json
from typing import Any

from django.core.exceptions import ValidationError
from django.template.loader import render_to_string

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs import services as jobs
from reports.audit.calendar import Period
from reports.audit.models import QuarterReport
from reports.audit.queries.printed import quarter_content
from reports.audit.queries.rules import sees_exact
from reports.documents.stored import as_printed, store_once

PRINT = "PDF of an audit quarter"


@one_act()
def make_quarter(*, quarter: Period, by: Person) -> QuarterReport:
    """Freeze the figures of a quarter as this person sees them, and ask for the PDF.

    Raises
    ------
    ValidationError
        If the year is not counted yet.
    """
    require(by, "see audit")
    count, content = quarter_content(by, quarter)
    if count is None or by.clinic is None:
        raise ValidationError("That quarter is not counted yet. Count its year first, then print it.")
    report = QuarterReport(
        clinic=by.clinic,
        quarter_first=quarter.first,
        tally=count,
        exact=sees_exact(by),
        content=content,
        content_sha256=_hash(content),
        made_at=clock.now(),
        made_by=by.user,
    )
    report.full_clean()
    report.save()
    report.job = jobs.start(PRINT, by, {"report": report.pk})
    report.save(update_fields=["job"])
    record(by, "audit report made", report, details={"quarter": quarter.key})
    return report


def render_quarter(*, report: QuarterReport, by: Person) -> QuarterReport:
    """Render and keep the PDF; run twice it ends as if once."""
    require(by, "see audit", report)
    if report.pdf_sha256:
        return report
    if _hash(report.content) != report.content_sha256:
        raise ValidationError("The stored figures do not match their checksum. Make a new report.")
    from reports.documents import render  # the print library: half a second no web process needs

    page = render_to_string("audit/report.html", {"report": report.content})
    printed = render.printed(page, report.content_sha256[:32])
    sha256 = hashlib.sha256(printed.data).hexdigest()
    store_once(
        f"audit/{report.clinic_id}/{report.pk}",
        printed.data,
        lambda name: _keep(report, name, sha256, by),
    )
    report.refresh_from_db()
    return report


@one_act()
def open_quarter(*, report: QuarterReport, by: Person) -> bytes:
    """The PDF's bytes, for a download.

    Raises
    ------
    ValidationError
        If it is not rendered yet, or the file is not the one that was rendered.
    """
    require(by, "see audit", report)
    if not report.pdf_sha256:
        raise ValidationError("This report is not rendered yet. The list says how far it is.")
    data = as_printed(report.pdf, report.pdf_sha256)
    if data is None:
        raise ValidationError(
            "The stored file is not the one that was rendered, so it is not handed out. "
            "Make a new report, and tell your system administrator."
        )
    record(by, "audit report downloaded", report)
    return data


@one_act()
def _keep(report: QuarterReport, name: str, digest: str, by: Person) -> bool:
    kept = QuarterReport.objects.filter(pk=report.pk, pdf="").update(pdf=name, pdf_sha256=digest)
    if kept:
        record(by, "audit report rendered", report)
    return bool(kept)


def _hash(content: Any) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
