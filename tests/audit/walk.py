"""Example objects of the audit for the walk through every page."""

from access import clock
from reports.audit.models import QuarterReport
from reports.audit.queries.figures import quarter_now
from reports.audit.queries.rules import year_now
from reports.audit.services import ask_for_rows, new_count

# A measure and a kind of thing to mend are the same in every clinic; the page holds the own one's.
SERVES_ALL = {
    "audit:measure": {"reporter", "administrator"},
    "audit_api:measure": {"reporter", "administrator"},
    "audit:compare": {"reporter", "administrator"},
    "audit:rows": {"reporter"},
    "audit:people": {"reporter", "educator", "measurer"},
    "audit:quality_list": {"reporter", "measurer"},
}


def examples(cast):
    by = cast.administrator
    count = new_count(year_now(by), by)
    export = ask_for_rows(year=year_now(by), form="csv", purpose="a walk", legal_basis="none", by=by)
    report = QuarterReport.objects.create(
        clinic=cast.clinic,
        quarter_first=quarter_now(by).first,
        tally=count,
        exact=False,
        content={},
        content_sha256="0" * 64,
        made_at=clock.now(),
        made_by=by.user,
    )
    about = {"export_id": export.pk}
    return {
        **{f"audit:{page}": {"name": "p14"} for page in ("measure", "compare", "rows", "people")},
        "audit_api:measure": {"measure": "p14"},
        "audit:quality_list": {"key": "diabetes"},
        "audit:report_pdf": {"report_id": report.pk},
        **{f"audit:{page}": about for page in ("export", "decide", "cancel", "link", "take")},
    }
