"""What a worker does: the work its messages name, and a sweep of its own every few seconds.

The sweep is no message: it mends what a broker lost, so it may not travel by one. Every worker sweeps; two
sweeps at once find each other's work done.
"""

import threading
from typing import Any

from celery import shared_task
from celery.signals import worker_ready, worker_shutting_down

from jobs import services
from jobs.sweeper import sweep_until

_stop = threading.Event()


@shared_task(name="jobs.run")
def run(number: int) -> None:
    services.run(number)


@worker_ready.connect
def begin_to_sweep(**kwargs: Any) -> None:
    threading.Thread(target=sweep_until, args=(_stop,), name="sweep", daemon=True).start()


@worker_shutting_down.connect
def stop_sweeping(**kwargs: Any) -> None:
    _stop.set()
