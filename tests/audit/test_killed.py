"""A worker is killed while it writes a file that leaves the house: no half file stands."""

import io
import zipfile

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from jobs.models import Job
from reports.audit.calendar import Period, Span, months_later
from reports.audit.queries.rules import year_now
from reports.audit.services import ask_for_rows, cancel, decide, make_link, take
from tests.audit.test_counting import many_exams
from tests.people import cast_of
from tests.processes import kill, until, worker

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]
EXAMS = 3000


def asked(here):
    """A request for rows of so many exams of the year before that writing them can be interrupted."""
    year = Period(months_later(year_now(here.administrator).first, -12), Span.YEAR)
    many_exams(here, EXAMS, first=year.first, months=1)
    said = {"year": year, "form": "csv", "purpose": "a question", "legal_basis": "approval 7"}
    return ask_for_rows(by=here.administrator, **said)


def stored(export):
    folder = f"exports/{export.clinic_id}"
    return default_storage.listdir(folder)[1] if default_storage.exists(folder) else []


def test_a_worker_killed_while_it_writes_leaves_no_half_file_and_the_next_one_finishes():
    here = cast_of("Alder House")
    export = decide(export=asked(here), approve=True, because="agreed", by=here.reporter)
    with worker() as first:
        until(lambda: job_of(export).words == "writing", what="the beginning of the writing")
        kill(first)
    assert stored(export) == []
    export.refresh_from_db()
    assert (export.is_ready, export.file.name) == (False, "")
    # As a worker leaves it that is killed while the finished file is copied to where it is kept.
    default_storage.save(f"exports/{export.clinic_id}/{export.pk}-half.zip", ContentFile(b"PK"))

    with worker():
        until(lambda: job_of(export).state == "done", what="the end under the second worker")

    export.refresh_from_db()
    assert stored(export) == [export.file.name.rpartition("/")[2]]
    token = make_link(export=export, by=here.administrator)
    with take(export=export, by=here.administrator, token=token) as file:
        rows = zipfile.ZipFile(io.BytesIO(file.read())).read("exams.csv").decode().splitlines()
    assert len(rows) == 1 + EXAMS
    assert stored(export) == []


def test_a_file_cancelled_while_a_worker_writes_it_is_not_kept():
    here = cast_of("Alder House")
    export = decide(export=asked(here), approve=True, because="agreed", by=here.reporter)
    with worker():
        until(lambda: job_of(export).words == "writing", what="the beginning of the writing")
        cancel(export=export, by=here.administrator)
        until(lambda: job_of(export).state == "failed", what="the end of the writing")

    assert job_of(export).reason == "Cancelled; nothing was kept."
    assert stored(export) == []


def job_of(export):
    return Job.objects.get(pk=export.job_id)
