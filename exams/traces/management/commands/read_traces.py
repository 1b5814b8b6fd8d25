"""Read a folder of recordings, or the stored ones again: one line of JSON each."""

import os
import sys
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from exams.hemodynamics import TraceKind
from exams.traces.many_files import line_of, read_all, recordings_in
from exams.traces.services.stored import read_stored_again


class Command(BaseCommand):
    help = (
        "Reads every recording of a folder (CSV, EDF, WFDB) and writes one line of JSON a file. With "
        "--stored it reads the stored recordings under the present version of the reader instead, changes no "
        "accepted reading, and lists what would differ."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", nargs="?", type=Path, help="folder with recordings, read below it too")
        parser.add_argument("--out", required=True, type=Path, help="file for the answers, one line each")
        parser.add_argument(
            "--stored", action="store_true", help="the recordings of this service, read again"
        )
        parser.add_argument(
            "--kind", choices=[str(kind) for kind in TraceKind], default=str(TraceKind.REFILL)
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder, out = options["folder"], options["out"]
        if options["stored"] == (folder is not None):
            raise CommandError("Give a folder with recordings, or --stored for those of this service.")
        if options["stored"]:
            total, answers = read_stored_again()
        else:
            if not folder.is_dir():
                raise CommandError(f"There is no folder {folder}.")
            names = recordings_in(folder, but=out)
            total, answers = len(names), read_all(folder, names, TraceKind(options["kind"]))
        self._write(out, answers, total)

    def _write(self, out: Path, answers: Iterable[dict[str, Any] | None], total: int) -> None:
        """All lines or none: a file under another name takes its place when the last is written."""
        part = out.with_name(f".{out.name}.{os.getpid()}.part")
        began = time.monotonic()
        read = written = 0
        try:
            with part.open("w", encoding="utf-8") as file:
                for read, answer in enumerate(answers, start=1):
                    if answer is not None:
                        file.write(line_of(answer))
                        written += 1
                    self._progress(read, total, began)
            part.replace(out)
        except KeyboardInterrupt:
            raise CommandError("Stopped. No answers were written.", returncode=130) from None
        except OSError as refused:
            raise CommandError(f"{out} cannot be written: {refused.strerror}.") from None
        finally:
            part.unlink(missing_ok=True)
        took = time.monotonic() - began
        self.stderr.write(f"\r{read} of {total} read in {took:.1f} s, {written} lines written.".ljust(60))

    def _progress(self, done: int, total: int, began: float) -> None:
        # At a terminal each file, in a log each tenth of them.
        total = max(total, done)  # more may have arrived meanwhile
        if sys.stderr.isatty() or done * 10 // total > (done - 1) * 10 // total:
            left = (time.monotonic() - began) / done * max(total - done, 0)
            words = f"{100 * done // total} %: {done} of {total} read, about {left:.0f} s left"
            self.stderr.write(f"\r{words:<60}", ending="" if sys.stderr.isatty() else "\n")
            self.stderr.flush()
