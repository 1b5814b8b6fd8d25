"""Real processes beside the test: a worker, a web server, on this test's own database; and how to kill them.

Use with ``transactional_db`` (or ``live_server``): another process sees only what is committed.
"""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.db import connection

HOUSE = Path(__file__).resolve().parent.parent


def until(true: Callable[[], object], *, seconds: float = 30, what: str = "it") -> None:
    """Wait for ``true()``, at most so long; whatever is awaited is polled, never slept for."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"{what} did not happen within {seconds} s"
        time.sleep(0.02)


def environment(**changed: str) -> dict[str, str]:
    """This test's environment for a process that works on the same database and data folder."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "postgresql":
        address = os.environ["VASLAB_DATABASE_URL"]
        changed["VASLAB_DATABASE_URL"] = address.rpartition("/")[0] + "/" + name
    else:
        assert Path(name) == settings.DATA_DIR / "vaslab.sqlite3"
    # With bytecode kept, a process starts in half the time.
    inherited = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**inherited, "PYTHONPATH": str(HOUSE), **changed}


@contextmanager
def process(*command: str, **changed: str) -> Iterator[subprocess.Popen[bytes]]:
    """A process (a module, or a file of ours) with a group of its own, ended, hard if need be, with it."""
    module = [] if command[0].endswith(".py") else ["-m"]
    started = subprocess.Popen(
        [sys.executable, *module, *command], cwd=HOUSE, env=environment(**changed), start_new_session=True
    )
    try:
        yield started
    finally:
        if started.poll() is None:
            os.killpg(started.pid, signal.SIGTERM)
            try:
                started.wait(timeout=10)
            except subprocess.TimeoutExpired:
                kill(started)


def kill(started: subprocess.Popen[bytes]) -> None:
    """As loss of power would: nothing of the process gets to tidy up."""
    os.killpg(started.pid, signal.SIGKILL)
    started.wait()


def worker(app: str = "vaslab", pool: str = "threads", **changed: str):
    """A worker on the broker of this test's environment, with quick beats and sweeps."""
    quick = {
        "VASLAB_JOB_BEAT_SECONDS": "0.1",
        "VASLAB_JOB_LOST_SECONDS": "1",
        "VASLAB_JOB_WAIT_SECONDS": "1",
        "VASLAB_JOB_SWEEP_SECONDS": "0.1",
    }
    return process("celery", "-A", app, "worker", "-P", pool, "-c", "1", "-l", "warning", **quick | changed)


@contextmanager
def web_server(**changed: str) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """The web server and its address, once it answers."""
    port = _free_port()
    bind = ("--bind", f"127.0.0.1:{port}")
    with process("gunicorn", *bind, "--workers", "1", **changed) as started:
        until(lambda: _answers(port), what="the web server's first answer")
        yield started, f"http://127.0.0.1:{port}"


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _answers(port: int) -> bool:
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0
