"""The work of this room's jobs."""

from typing import Any

from django.urls import reverse

from jobs.models import Job
from jobs.registry import job
from jobs.services import beat
from reports.letters import queries, services


@job(services.RENDER)
def render_referral_letter(job: Job) -> dict[str, Any]:
    by = job.person()
    letter = queries.letter_for(by, job.numbers["letter"])
    beat(job, 20, "laying out the page")
    services.render_letter(letter=letter, by=by)
    return {"open": reverse("letters:referral", args=[letter.step.referral_id])}
