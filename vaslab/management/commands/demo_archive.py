"""Make a database as large as a clinic's after decades: some people are told of, the rest are copies."""

import time
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from access import clock
from access.models import Clinic
from access.trail import one_act
from exams.visits.models import Exam
from vaslab.demo.archive import Archive
from vaslab.demo.invented import often_seen, one_of_each
from vaslab.demo.tell import tell_everything


class Command(BaseCommand):
    help = (
        "Fill the database with exams of invented people until there are --exams of them. Empty, it gets a "
        "person of every course and one with two hundred exams first; a demonstration that is there is grown."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--exams", type=int, default=1_000_000)
        parser.add_argument(
            "--whole",
            action="store_true",
            help="copy every finding, condition and report text too: about five times the room on the disk",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("An archive of invented people is made only where VASLAB_DEMO=1.")
        began = time.monotonic()

        def say(step: str) -> None:
            self.stdout.write(f"  {time.monotonic() - began:5.0f} s  {step}")

        if not Clinic.objects.exists():
            with one_act():
                tell_everything(clock.now(), say, (*one_of_each(), often_seen()))
        try:
            archive = Archive(whole=options["whole"])
            archive.grow(options["exams"], say)
        except ValueError as refused:
            raise CommandError(str(refused)) from None
        say(f"{Exam.objects.count():,} exams stand in the database")
