"""The work of this room's jobs."""

from typing import Any

from django.urls import reverse

from jobs.models import Job
from jobs.registry import job, tidies
from jobs.services import beat
from reports.audit import services
from reports.audit.queries import records, what_if


@job(services.COUNT)
def count_a_year(job: Job) -> dict[str, Any]:
    by = job.person()
    count = records.count_to_fill(by, job.numbers["count"])

    def tell(part: float, words: str) -> None:
        beat(job, round(95 * part), words)

    services.count_year(count=count, by=by, tell=tell)
    return {"open": reverse("audit:overview")}


@job(services.PRINT)
def print_a_quarter(job: Job) -> dict[str, Any]:
    by = job.person()
    report = records.report_for(by, job.numbers["report"])
    beat(job, 20, "laying out the pages")
    services.render_quarter(report=report, by=by)
    return {"open": reverse("audit:reports")}


@job(services.WRITE)
def write_an_export(job: Job) -> dict[str, Any]:
    by = job.person()
    export = records.export_for(by, job.numbers["export"])

    def tell(part: float, words: str) -> None:
        beat(job, round(95 * part), words)

    services.write_export(export=export, by=by, tell=tell)
    return {"open": reverse("audit:export", args=[export.pk])}


@job(services.TRY)
def try_draft_criteria(job: Job) -> dict[str, Any]:
    by = job.person()
    draft = what_if.draft_for(by, job.numbers["draft"])
    services.try_draft(
        draft=draft, by=by, tell=lambda part: beat(job, round(95 * part), "reading exams again")
    )
    return {"open": reverse("audit:draft", args=[draft.pk])}


@tidies
def delete_exports_that_are_over() -> None:
    services.clear_away_everywhere()
