"""The jobs of this room: a table checked, made ready, taken in, taken back."""

from functools import partial
from typing import Any

from django.urls import reverse

from jobs.models import Job
from jobs.registry import job
from jobs.services import beat
from reports.exchange import queries, services
from reports.exchange.services.columns import CHECK
from reports.exchange.services.importing import TAKE_IN
from reports.exchange.services.readying import GET_READY
from reports.exchange.services.taking_back import TAKE_BACK


@job(CHECK)
def check_table(job: Job) -> dict[str, Any]:
    by = job.person()
    batch = queries.batch_for(by, job.numbers["batch"])
    services.check_table(batch=batch, by=by, tell=partial(beat, job))
    return _opens(batch.pk)


@job(GET_READY)
def get_table_ready(job: Job) -> dict[str, Any]:
    by = job.person()
    batch = queries.batch_for(by, job.numbers["batch"])
    services.get_ready(batch=batch, by=by, tell=partial(beat, job))
    return _opens(batch.pk)


@job(TAKE_IN)
def take_table_in(job: Job) -> dict[str, Any]:
    by = job.person()
    batch = queries.batch_for(by, job.numbers["batch"])
    services.take_in(batch=batch, by=by, tell=partial(beat, job))
    return _opens(batch.pk)


@job(TAKE_BACK)
def take_table_back(job: Job) -> dict[str, Any]:
    by = job.person()
    batch = queries.batch_for(by, job.numbers["batch"])
    services.take_back(batch=batch, by=by, tell=partial(beat, job))
    return _opens(batch.pk)


def _opens(number: int) -> dict[str, Any]:
    return {"open": reverse("exchange:table", args=[number])}
