"""The sweep that every worker and the scheduler repeat until they are told to stop."""

import socket
import threading
import time

import structlog
from django.conf import settings
from django.db import connection

from jobs import services

TIDY_EVERY_SECONDS = 3600

log = structlog.get_logger("jobs")


def sweep_until(stop: threading.Event) -> None:
    """Sweep every JOB_SWEEP_SECONDS. After each sweep that reached the database a file under ``alive/`` in
    the data folder, named after this machine, is touched: a watcher asks for its age."""
    tidy_at = time.monotonic()
    while True:
        try:
            services.sweep()
            _still_alive()
            if time.monotonic() >= tidy_at:
                tidy_at += TIDY_EVERY_SECONDS
                services.tidy()
        except Exception as error:  # the database may be away for a while; the next sweep tries again
            log.warning("no sweep", error=type(error).__name__)
        finally:
            connection.close()
        if stop.wait(settings.JOB_SWEEP_SECONDS):
            return


def _still_alive() -> None:
    folder = settings.DATA_DIR / "alive"
    folder.mkdir(exist_ok=True)
    (folder / socket.gethostname()).touch()
