"""A message broker made of files, for machines without a broker of their own.

A message is one file in the queue's folder. It is written under a name no reader looks at, flushed to the
disk and only then renamed, so a reader never meets half a message. A reader takes a message by renaming it,
which only one of many can do. A message taken by a worker that then dies is gone: the job's row is the truth,
and the sweeper sends it again. Messages hold row numbers and never leave the spool's folder.
"""

import json
import os
import time
import uuid
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.transport import TRANSPORT_ALIASES, virtual

READY, PART, TAKEN = ".message", ".part", ".taken"


def register() -> None:
    """Let Celery find this broker under ``spool://``."""
    TRANSPORT_ALIASES["spool"] = "vaslab.spool:Transport"


def put(folder: Path, message: dict[str, Any]) -> None:
    """Add a message to a queue's folder: whole or not at all, on the disk when this returns."""
    folder.mkdir(parents=True, exist_ok=True)
    # Wall-clock time keeps the order over a restart of the machine; the random part keeps two senders apart.
    name = f"{time.time_ns():020d}-{uuid.uuid4().hex}"
    part = folder / (name + PART)
    with part.open("x", encoding="utf-8") as file:
        json.dump(message, file)
        file.flush()
        os.fsync(file.fileno())
    part.replace(folder / (name + READY))


def take(folder: Path) -> dict[str, Any]:
    """Take the oldest message out of a queue's folder.

    Raises
    ------
    queue.Empty
        If no message is waiting.
    """
    for name in _waiting(folder):
        taken = (folder / name).with_suffix(TAKEN)
        try:
            (folder / name).rename(taken)
        except FileNotFoundError:
            continue  # another worker was quicker
        message: dict[str, Any] = json.loads(taken.read_text(encoding="utf-8"))
        taken.unlink()
        return message
    raise Empty


def _waiting(folder: Path) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir() if path.suffix == READY)
    except FileNotFoundError:
        return []


class Channel(virtual.Channel):
    def _folder(self, queue: str) -> Path:
        return Path(self.connection.client.transport_options["folder"]) / queue

    def _put(self, queue: str, message: dict[str, Any], **kwargs: Any) -> None:
        put(self._folder(queue), message)

    def _get(self, queue: str, timeout: float | None = None) -> dict[str, Any]:
        return take(self._folder(queue))

    def _size(self, queue: str) -> int:
        return len(_waiting(self._folder(queue)))

    def _purge(self, queue: str) -> int:
        names = _waiting(self._folder(queue))
        for name in names:
            (self._folder(queue) / name).unlink(missing_ok=True)
        return len(names)


class Transport(virtual.Transport):
    Channel = Channel
    default_port = None
    driver_type = driver_name = "spool"

    def driver_version(self) -> str:
        return "1"
