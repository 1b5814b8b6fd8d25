"""Real workers, killed in the middle of their work."""

import pytest
from django.conf import settings

from jobs import services
from jobs.models import Job
from tests.jobs import kinds  # noqa: F401  (names the kinds used here)
from tests.processes import kill, process, until, worker

KINDS = "tests.jobs.kinds"

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("pool", ["threads", "prefork"])
def test_a_worker_does_the_job_it_is_sent(measurer, pool):
    with worker(KINDS, pool):
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


def test_a_worker_asked_to_stop_finishes_the_job_it_has(measurer, gate):
    with worker(KINDS) as first:
        job = services.start("wait at the gate", by=measurer, numbers={})
        until(lambda: (settings.DATA_DIR / "arrived-1").exists(), what="the worker's arrival")
        first.terminate()
        gate.touch()
        first.wait(timeout=20)

    job.refresh_from_db()
    assert (job.state, job.attempt) == ("done", 1)


def test_without_a_broker_the_asker_is_answered_and_the_job_runs_once_one_is_there(measurer):
    nobody_listens = "redis://127.0.0.1:1/0"
    with process(
        "tests.jobs.ask", str(measurer.user.pk), str(measurer.clinic.pk), VASLAB_BROKER_URL=nobody_listens
    ) as asking:
        assert asking.wait(timeout=20) == 0
    job = Job.objects.get()
    assert job.state == "waiting"

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
