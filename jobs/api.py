"""Background jobs for programs: how far they are."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import lists, looks
from access.paging import Asked
from jobs import queries
from jobs.sent import JobAnswer, JobsAsked


def job_said(job: Any) -> dict[str, Any]:
    return dict(JobAnswer(job).data)


class Jobs(Api):
    @lists("list_jobs", "jobs", "Background jobs of the clinic", JobAnswer, JobsAsked)
    def get(self, request: Request) -> Response:
        asked = self.asked(JobsAsked)
        part = queries.jobs_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        return self.answer_part(part, job_said)


class Job(Api):
    @looks("read_job", "jobs", "How far a job is", JobAnswer)
    def get(self, request: Request, number: int) -> Response:
        return self.answer(job_said(queries.job_for(self.person, number)))
