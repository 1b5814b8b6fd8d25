"""Does this process live, and can it serve? Asked by machines, so no answer is about anyone."""

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

import structlog
from celery import current_app
from django.core.files.storage import FileSystemStorage, default_storage
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from access import clock
from vaslab.version import version

log = structlog.get_logger("vaslab")

_PATIENCE_SECONDS = 2
_MOST_APART_SECONDS = 2  # workflow.md S39


@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 as long as this process answers. It asks nothing else: a restart mends no database."""
    return JsonResponse({"status": "well", "version": version()})


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """200 when database, clock, migrations, broker and files are in order, else 503 and which is not."""
    found = {name: _outcome(name, look) for name, look in _PARTS.items()}
    well = all(words == "well" for words in found.values())
    return JsonResponse({"status": "ready" if well else "not ready", **found}, status=200 if well else 503)


def _outcome(name: str, look: Callable[[], str]) -> str:
    try:
        return look() or "well"
    except (
        Exception
    ) as error:  # each library has errors of its own; whatever it is, this part does not answer
        log.warning("not ready", part=name, error=type(error).__name__)
        return "does not answer"


def _database() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return ""


def _clock() -> str:
    """Whether this machine's clock runs with the database's; one machine has one clock."""
    if connection.vendor != "postgresql":
        return ""
    with connection.cursor() as cursor:
        before = clock.now()
        cursor.execute("SELECT clock_timestamp()")
        theirs, after = cursor.fetchone()[0], clock.now()
    # An answer that took long is no clock that runs ahead.
    apart = max((before - theirs).total_seconds(), (theirs - after).total_seconds())
    return f"{apart:.0f} s apart from the database's: let NTP set both" if apart > _MOST_APART_SECONDS else ""


def _migrations() -> str:
    waiting = _ours() - set(MigrationRecorder(connection).applied_migrations())
    return f"{len(waiting)} to apply: python manage.py migrate" if waiting else ""


@cache
def _ours() -> frozenset[tuple[str, str]]:
    # Of the code alone, so it cannot change while the process runs.
    return frozenset(MigrationLoader(None).disk_migrations)


def _broker() -> str:
    with current_app.connection_for_write() as link:
        link.ensure_connection(max_retries=1, interval_start=0, timeout=_PATIENCE_SECONDS)
        folder = link.transport_options.get("folder")
    return "" if folder is None else _writable(Path(folder))


def _files() -> str:
    if isinstance(default_storage, FileSystemStorage):
        return _writable(Path(default_storage.location))
    default_storage.exists("ready")  # a question only: whether there is such a file does not matter
    return ""


def _writable(folder: Path) -> str:
    there = next(one for one in (folder, *folder.parents) if one.exists())
    return "" if os.access(there, os.W_OK | os.X_OK) else "cannot be written to"


_PARTS = {
    "database": _database,
    "clock": _clock,
    "migrations": _migrations,
    "broker": _broker,
    "files": _files,
}
