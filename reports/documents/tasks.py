"""The work of this room's jobs."""

from typing import Any

from django.urls import reverse

from jobs.models import Job
from jobs.registry import job
from jobs.services import beat
from reports.documents import queries, services


@job(services.RENDER)
def render_exam_report(job: Job) -> dict[str, Any]:
    by = job.person()
    document = queries.document_for(by, job.numbers["document"])
    beat(job, 20, "laying out the pages")
    services.render_report(document=document, by=by)
    return {"open": reverse("documents:document", args=[document.pk])}
