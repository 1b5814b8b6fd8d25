"""What a worker does: the work its messages name, and a sweep of its own every few seconds.

The sweep is no message: it mends what a broker lost, so it may not travel by one. Every worker sweeps; two
sweeps at once find each other's work done.
"""

import threading
from typing import Any

import structlog
from celery import shared_task
from celery.signals import worker_ready, worker_shutting_down
from django.conf import settings
from django.db import connection

from jobs import services

log = structlog.get_logger("jobs")

_stop = threading.Event()


@shared_task(name="jobs.run")
def run(number: int) -> None:
    services.run(number)


@worker_ready.connect
def begin_to_sweep(**kwargs: Any) -> None:
    threading.Thread(target=_sweep_until_stopped, name="sweep", daemon=True).start()


@worker_shutting_down.connect
def stop_sweeping(**kwargs: Any) -> None:
    _stop.set()


def _sweep_until_stopped() -> None:
    while True:
        try:
            services.sweep()
        except Exception as error:  # the database may be away for a while; the next sweep tries again
            log.warning("no sweep", error=type(error).__name__)
        finally:
            connection.close()
        if _stop.wait(settings.JOB_SWEEP_SECONDS):
            return
