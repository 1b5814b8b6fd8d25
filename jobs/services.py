"""A job from being asked for to its end.

The row is written with the change that asks for it and its message is sent after the commit. A worker takes
the job by a conditional update, so of two messages for one job the second finds nothing to do. While the work
runs, a thread beside it writes a beat. The sweeper sends again what waited too long and gives back what
stopped beating; so neither a lost message, a dead worker nor an absent broker loses a job.
"""

import threading
from uuid import uuid4

import structlog
from celery import current_app
from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist, PermissionDenied, ValidationError
from django.db import DatabaseError, connection, transaction
from django.db.models import F
from django.http import Http404

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from jobs.models import MOST_ATTEMPTS, Job, JobState
from jobs.registry import tidying, work_for

log = structlog.get_logger("jobs")

_PATIENCE_SECONDS = 0.5


class TakenOver(Exception):
    """This worker was thought lost and another has the job now: stop, keep nothing more."""


def start(kind: str, by: Person, numbers: dict[str, int]) -> Job:
    """Ask for a job; it is sent to a worker once the act in hand is committed.

    Parameters
    ----------
    kind : a name given to ``jobs.registry.job``.
    by : the person asking. Their right is checked by the work itself, now and again when it runs.
    numbers : row numbers the work needs; nothing else may travel.

    Raises
    ------
    LookupError
        If no room does this kind of job.
    TypeError
        If something other than a row number was given.
    """
    work_for(kind)
    for name, number in numbers.items():
        if type(number) is not int:
            raise TypeError(f"A job carries row numbers only; {name} is a {type(number).__name__}.")
    with one_act():
        job = Job.objects.create(
            kind=kind, numbers=numbers, user=by.user, clinic=by.clinic, role=min(by.roles, default="")
        )
        record(by, "background job asked for", job, details={"kind": kind})
        transaction.on_commit(lambda: _send(job.pk))
    return job


def try_again(job: Job, by: Person) -> Job:
    """Set a failed job waiting again, for the person who first asked. Does nothing to one that is not failed.

    Raises
    ------
    PermissionDenied, NotHere
    """
    with one_act():
        require(by, "see jobs", job)
        now = clock.now()
        mended = Job.objects.filter(pk=job.pk, state=JobState.FAILED).update(
            state=JobState.WAITING,
            reason="",
            words="",
            percent=0,
            attempt=0,
            claim="",
            sent_at=now,
            started_at=None,
            beat_at=None,
            ended_at=None,
        )
        if mended:
            record(by, "background job tried again", job, details={"kind": job.kind})
            transaction.on_commit(lambda: _send(job.pk))
    job.refresh_from_db()
    return job


def beat(job: Job, percent: int, words: str) -> None:
    """Say how far a running job is. To be called between transactions, or nobody can see it yet.

    Raises
    ------
    TakenOver
        If another worker has the job now.
    """
    mine = Job.objects.filter(pk=job.pk, claim=job.claim, state=JobState.RUNNING)
    if not mine.update(percent=percent, words=words, beat_at=clock.now()):
        raise TakenOver


def run(number: int) -> None:
    """Take a waiting job up and do it. Returns at once if it is not waiting (any more)."""
    job = _claim(number)
    if job is None:
        return
    structlog.contextvars.bind_contextvars(job=job.pk, kind=job.kind)
    try:
        with _Heart(job):
            result = work_for(job.kind)(job)
    except TakenOver:
        log.warning("taken over by another worker")
    except Exception as error:  # whatever went wrong is the job's answer; the worker goes on
        log.exception("failed")
        _fail(job, _in_plain_words(error))
    else:
        _finish(job, result or {})
    finally:
        structlog.contextvars.clear_contextvars()


def sweep() -> None:
    """Send again what waited too long; give back, or fail, what stopped beating."""
    now = clock.now()
    silent = Job.objects.filter(state=JobState.RUNNING, beat_at__lt=now - settings.JOB_LOST_AFTER)
    for job in silent:
        if job.attempt >= MOST_ATTEMPTS:
            _fail(
                job,
                f"The worker stopped {MOST_ATTEMPTS} times while doing this. "
                "Try it again later; if it stops again, tell your system administrator.",
            )
        elif Job.objects.filter(pk=job.pk, claim=job.claim, state=JobState.RUNNING).update(
            state=JobState.WAITING, claim="", percent=0, words="", beat_at=None, sent_at=now
        ):
            log.warning("given back: its worker stopped beating", job=job.pk, kind=job.kind)
            _send(job.pk)
    forgotten = Job.objects.filter(state=JobState.WAITING, sent_at__lt=now - settings.JOB_WAIT_LIMIT)
    for job in forgotten:
        if Job.objects.filter(pk=job.pk, state=JobState.WAITING, sent_at=job.sent_at).update(sent_at=now):
            _send(job.pk)


def tidy() -> None:
    """Let every room clear away what is over; one that fails keeps no other from it."""
    for work in tidying:
        try:
            work()
        except Exception as error:  # a room's files or database may be away; it is tried again in an hour
            log.warning("not tidied", work=work.__name__, error=type(error).__name__)


def _send(number: int) -> None:
    """Tell the workers; if the broker is away the row waits and the sweeper sends it again.

    A broker that is away makes its library wait for seconds, which the asking person must not: they are
    answered after a moment while the attempt goes on beside them.
    """
    attempt = threading.Thread(target=_try_to_send, args=(number,), name=f"message for job {number}")
    attempt.start()
    attempt.join(timeout=_PATIENCE_SECONDS)


def _try_to_send(number: int) -> None:
    try:
        current_app.send_task("jobs.run", args=[number])
    except Exception as error:  # each broker has errors of its own, and the person must be answered
        log.warning("not sent: the broker is away", job=number, error=type(error).__name__)


def _claim(number: int) -> Job | None:
    now = clock.now()
    claim = uuid4().hex
    taken = Job.objects.filter(pk=number, state=JobState.WAITING).update(
        state=JobState.RUNNING, claim=claim, attempt=F("attempt") + 1, started_at=now, beat_at=now
    )
    return Job.objects.select_related("user", "clinic").get(pk=number) if taken else None


def _finish(job: Job, result: dict[str, object]) -> None:
    mine = Job.objects.filter(pk=job.pk, claim=job.claim, state=JobState.RUNNING)
    if mine.update(state=JobState.DONE, percent=100, words="", result=result, ended_at=clock.now()):
        log.info("done", job=job.pk, kind=job.kind, attempt=job.attempt)


def _fail(job: Job, reason: str) -> None:
    with one_act():
        mine = Job.objects.filter(pk=job.pk, claim=job.claim, state=JobState.RUNNING)
        if mine.update(state=JobState.FAILED, words="", reason=reason[:400], ended_at=clock.now()):
            record(job.person(), "background job failed", job, details={"kind": job.kind})


def _in_plain_words(error: Exception) -> str:
    if isinstance(error, ValidationError):
        return " ".join(error.messages)
    if isinstance(error, Http404 | ObjectDoesNotExist):
        return "What this was about is no longer here, or belongs to another clinic."
    if isinstance(error, PermissionDenied):
        return "The person who asked for this may not do it (any more)."
    return (
        "Something went wrong on our side; nothing was kept halfway. Try it again; "
        f"if it fails again, tell your system administrator “{type(error).__name__}”."
    )


class _Heart:
    """Writes a beat from a thread of its own while the work runs, on its own database connection."""

    def __init__(self, job: Job) -> None:
        self._job = job
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._beat, name=f"beat of job {job.pk}", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *error: object) -> None:
        self._stop.set()
        self._thread.join()

    def _beat(self) -> None:
        mine = Job.objects.filter(pk=self._job.pk, claim=self._job.claim, state=JobState.RUNNING)
        while not self._stop.wait(settings.JOB_BEAT.total_seconds()):
            try:
                mine.update(beat_at=clock.now())
            except DatabaseError as error:
                log.warning("no beat: the database does not answer", error=type(error).__name__)
            finally:
                connection.close()
