"""Example objects of the audit for the walk through every page."""

from access import clock
from reports.audit.calendar import Period, Span, months_later
from reports.audit.models import CriteriaDraft, QuarterReport
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
    year_before = Period(months_later(year_now(by).first, -12), Span.YEAR)
    export = ask_for_rows(year=year_before, form="csv", purpose="a walk", legal_basis="none", by=by)
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
    draft = CriteriaDraft.objects.create(
        clinic=cast.clinic,
        base_name="acc-aha-2024",
        base_version="2",
        words="a limit",
        moved_to="20 mmHg",
        last=10,
        text="",
        content_sha256="0" * 64,
        made_at=clock.now(),
        made_by=cast.reporter.user,
        outcome={"exams": 0, "limbs": 0, "many": 0, "moves": [], "changed": []},
        asked_at=clock.now(),
        asked_because="a walk",
    )
    about, drafted = {"export_id": export.pk}, {"draft_id": draft.pk}
    return {
        **{f"audit:{page}": {"name": "p14"} for page in ("measure", "compare", "rows", "people")},
        "audit_api:measure": {"measure": "p14"},
        "audit:quality_list": {"key": "diabetes"},
        "audit:report_pdf": {"report_id": report.pk},
        **{f"audit:{page}": drafted for page in ("draft", "ask_for_approval", "decide_draft", "draft_file")},
        **{f"audit:{page}": about for page in ("export", "decide", "cancel", "link", "take")},
    }
