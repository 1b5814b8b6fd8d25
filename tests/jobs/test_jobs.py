"""A job's life as its person sees it, without a worker."""

from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings
from django.db import IntegrityError, transaction

from access import clock
from access.permissions import NotHere
from jobs import queries, services
from jobs.models import Job
from tests.jobs import kinds  # noqa: F401  (names the kinds used here)

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


def test_a_job_asked_for_waits_for_a_worker(measurer):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    assert (job.state, job.user, job.clinic) == ("waiting", measurer.user, measurer.clinic)


def test_a_job_done_says_so_and_keeps_what_it_made(measurer):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    services.run(job.pk)

    job.refresh_from_db()
    assert (job.state, job.percent, job.result) == ("done", 100, {"open": "/greeting/7/"})


def test_the_second_message_for_one_job_finds_nothing_to_do(measurer):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    services.run(job.pk)
    services.run(job.pk)

    job.refresh_from_db()
    assert job.attempt == 1


def test_a_job_carries_row_numbers_and_nothing_else(measurer):
    with pytest.raises(TypeError, match="row numbers only; name is a str"):
        services.start("greet", by=measurer, numbers={"name": "Ada Quill"})


def test_a_kind_nobody_does_is_refused_before_a_row_is_written(measurer):
    with pytest.raises(LookupError, match="No room does the job “fold paper”"):
        services.start("fold paper", by=measurer, numbers={})

    assert not Job.objects.exists()


@pytest.mark.parametrize(
    ("how", "reason"),
    [
        (1, "The exam has no readings yet. Enter one, then print."),
        (2, "The person who asked for this may not do it (any more)."),
    ],
)
def test_a_failed_job_says_why_in_plain_words(measurer, how, reason):
    job = services.start("fail as asked", by=measurer, numbers={"how": how})

    services.run(job.pk)

    job.refresh_from_db()
    assert (job.state, job.reason) == ("failed", reason)


def test_an_unforeseen_error_is_named_by_its_kind_never_by_its_words(measurer):
    job = services.start("fail as asked", by=measurer, numbers={"how": 3})

    services.run(job.pk)

    job.refresh_from_db()
    assert "KeyError" in job.reason
    assert "Quill" not in job.reason


def test_a_failed_job_can_be_tried_again(measurer):
    job = services.start("fail as asked", by=measurer, numbers={"how": 1})
    services.run(job.pk)
    job.refresh_from_db()

    again = services.try_again(job, by=measurer)

    assert (again.state, again.reason, again.attempt) == ("waiting", "", 0)


def test_a_job_that_is_done_is_not_done_again(measurer):
    job = services.start("greet", by=measurer, numbers={"row": 7})
    services.run(job.pk)

    again = services.try_again(job, by=measurer)

    assert again.state == "done"


def test_a_job_whose_worker_stopped_beating_waits_again(measurer):
    job = _running(measurer, last_beat=NOON)

    with clock.at(NOON + settings.JOB_LOST_AFTER + timedelta(seconds=1)):
        services.sweep()

    job.refresh_from_db()
    assert (job.state, job.attempt) == ("waiting", 1)


def test_a_job_that_still_beats_is_left_alone(measurer):
    job = _running(measurer, last_beat=NOON)

    with clock.at(NOON + settings.JOB_LOST_AFTER - timedelta(seconds=1)):
        services.sweep()

    job.refresh_from_db()
    assert job.state == "running"


def test_a_job_whose_worker_stopped_three_times_fails_with_that_reason(measurer):
    job = _running(measurer, last_beat=NOON, attempt=3)

    with clock.at(NOON + settings.JOB_LOST_AFTER + timedelta(seconds=1)):
        services.sweep()

    job.refresh_from_db()
    assert job.state == "failed"
    assert "stopped 3 times" in job.reason


def test_a_worker_thought_lost_cannot_speak_for_the_job_any_more(measurer):
    lost = _running(measurer, last_beat=NOON)
    with clock.at(NOON + settings.JOB_LOST_AFTER + timedelta(seconds=1)):
        services.sweep()

    with pytest.raises(services.TakenOver):
        services.beat(lost, 80, "nearly there")


@pytest.mark.workers
def test_a_message_that_was_lost_is_sent_again(measurer, sent):
    with clock.at(NOON):
        job = services.start("greet", by=measurer, numbers={"row": 7})

    with clock.at(NOON + settings.JOB_WAIT_LIMIT + timedelta(seconds=1)):
        services.sweep()

    assert sent() == [job.pk]


@pytest.mark.workers
def test_a_job_that_waits_a_short_while_is_not_sent_twice(measurer, sent):
    with clock.at(NOON):
        services.start("greet", by=measurer, numbers={"row": 7})

    with clock.at(NOON + settings.JOB_WAIT_LIMIT - timedelta(seconds=1)):
        services.sweep()

    assert sent() == []


@pytest.mark.workers
def test_a_job_is_sent_only_after_the_change_that_asked_for_it_is_kept(
    measurer, sent, django_capture_on_commit_callbacks
):
    with django_capture_on_commit_callbacks(execute=True):
        job = services.start("greet", by=measurer, numbers={"row": 7})
        before = sent()

    assert before == []
    assert sent() == [job.pk]


def test_another_clinics_job_is_not_found(measurer, outsider):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    with pytest.raises(NotHere):
        queries.job_for(outsider, job.pk)


def test_a_failed_job_without_a_reason_cannot_be_stored(measurer):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(state="failed", ended_at=NOON)


def _running(by, *, last_beat, attempt=1):
    job = services.start("greet", by=by, numbers={"row": 7})
    Job.objects.filter(pk=job.pk).update(
        state="running", claim="a worker", attempt=attempt, started_at=last_beat, beat_at=last_beat
    )
    job.refresh_from_db()
    return job
