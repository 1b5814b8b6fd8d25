"""The work of this room's jobs."""

from typing import Any

from django.urls import reverse

from exams.traces.queries.exam import trace_sent_by
from exams.traces.services.growing import READING
from exams.traces.services.reading import analyse
from jobs.models import Job
from jobs.registry import job
from jobs.services import beat


@job(READING)
def read_a_trace(job: Job) -> dict[str, Any]:
    by = job.person()
    trace = trace_sent_by(by, job.numbers["trace"])
    beat(job, 10, "reading the recording")
    analyse(trace=trace, by=by)
    return {"open": reverse("traces:exam", args=[trace.exam_id])}
