"""The scheduler: only sweeps, so that jobs are seen to even while every worker is busy or gone."""

import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand

from jobs.sweeper import sweep_until


class Command(BaseCommand):
    help = "Send waiting jobs again and give back lost ones, every few seconds, until stopped."

    def handle(self, *args: Any, **options: Any) -> None:
        stop = threading.Event()
        for told in (signal.SIGTERM, signal.SIGINT):
            signal.signal(told, lambda number, frame: stop.set())
        sweep_until(stop)
