"""Kinds of job only the tests know, and the app whose workers know them too (``-A tests.jobs.kinds``)."""

import os
import time

import django
from django.apps import apps
from django.conf import settings
from django.core.exceptions import PermissionDenied, ValidationError

from vaslab.celery import app as app

if not apps.ready:
    django.setup()

from jobs.registry import job
from jobs.services import beat


@job("greet")
def greet(job):
    return {"open": f"/greeting/{job.numbers['row']}/"}


@job("wait at the gate")
def wait_at_the_gate(job):
    """Say which attempt arrived, and in which process, then go on once the gate is open."""
    beat(job, 40, "at the gate")
    (settings.DATA_DIR / f"arrived-{job.attempt}").write_text(str(os.getpid()))
    while not (settings.DATA_DIR / "gate is open").exists():
        time.sleep(0.01)
    return {"attempt": job.attempt}


@job("sign the book")
def sign_the_book(job):
    """One line a time it is done, whoever does it."""
    with (settings.DATA_DIR / "book").open("a") as book:
        book.write(f"{job.pk}\n")


@job("fail as asked")
def fail_as_asked(job):
    raise {
        1: ValidationError("The exam has no readings yet. Enter one, then print."),
        2: PermissionDenied("secret words"),
        3: KeyError("Ada Quill, born 1950"),
    }[job.numbers["how"]]
