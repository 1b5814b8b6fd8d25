"""Real workers, killed in the middle of their work."""

import os

import pytest
from django.conf import settings

from jobs import services
from jobs.models import Job
from tests.jobs import kinds  # noqa: F401  (names the kinds used here)
from tests.processes import kill, until, worker

KINDS = "tests.jobs.kinds"

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]


def test_a_worker_does_the_job_it_is_sent(measurer):
    with worker(KINDS):
        job = services.start("greet", by=measurer, numbers={"row": 7})

        until(lambda: _is(job, "done"), what="the job's end")


def test_a_job_whose_worker_is_killed_midway_is_taken_up_again_and_finished(measurer, gate):
    with worker(KINDS) as first:
        job = services.start("wait at the gate", by=measurer, numbers={})
        until(lambda: (settings.DATA_DIR / "arrived-1").exists(), what="the first worker's arrival")
        kill(first)
    gate.touch()

    with worker(KINDS):
        until(lambda: _is(job, "done"), what="the job's end under the second worker")

    job.refresh_from_db()
    assert (job.attempt, job.result) == (2, {"attempt": 2})


def test_a_worker_asked_to_stop_finishes_its_job_and_leaves_the_rest_waiting(measurer, gate):
    with worker(KINDS) as first:
        held = services.start("wait at the gate", by=measurer, numbers={})
        until(lambda: (settings.DATA_DIR / "arrived-1").exists(), what="the worker's arrival")
        waiting = services.start("greet", by=measurer, numbers={"row": 7})
        first.terminate()
        gate.touch()
        first.wait(timeout=20)

    held.refresh_from_db()
    waiting.refresh_from_db()
    assert (held.state, waiting.state) == ("done", "waiting")


def test_without_a_broker_the_person_is_answered_and_the_job_runs_when_it_is_back(measurer, absent_broker):
    job = services.start("greet", by=measurer, numbers={"row": 7})
    absent_broker.come_back()

    with worker(KINDS):
        until(lambda: _is(job, "done"), what="the job's end")


def _is(job, state):
    return Job.objects.get(pk=job.pk).state == state


@pytest.fixture
def gate():
    for left in settings.DATA_DIR.glob("arrived-*"):
        left.unlink()
    path = settings.DATA_DIR / "gate is open"
    path.unlink(missing_ok=True)
    yield path
    path.unlink(missing_ok=True)


@pytest.fixture
def absent_broker():
    """A broker that cannot take messages: the spool's folder is a file until it comes back."""
    if os.environ.get("VASLAB_BROKER_URL"):
        pytest.skip("stopping a shared Redis would disturb others; the spool stands for every broker here")
    folder = settings.DATA_DIR / "spool"
    kept = settings.DATA_DIR / "spool-kept"

    class Broker:
        def come_back(self):
            folder.unlink()
            kept.rename(folder)

    folder.mkdir(exist_ok=True)
    folder.rename(kept)
    folder.touch()
    return Broker()
