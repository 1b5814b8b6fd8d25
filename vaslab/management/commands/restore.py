"""Bring a backup back into an empty place, or only look through it."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from vaslab.backup import BackupRefused, check, restore


class Command(BaseCommand):
    help = (
        "Restore a folder written by backup into a new database and an empty folder of files, and compare "
        "every row, every file and the trail with it. Kept whole or not at all."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="written by backup")
        parser.add_argument("--check", action="store_true", help="look through it only; restore nothing")
        parser.add_argument(
            "--unsealed", action="store_true", help="do not ask for the seal of VASLAB_SECRET_KEY, now lost"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        act = check if options["check"] else restore
        tell = self._tell if options["verbosity"] else lambda words: None
        try:
            manifest = act(options["folder"], unsealed=options["unsealed"], tell=tell)
        except BackupRefused as refused:
            raise CommandError(str(refused)) from None
        done = "Whole" if options["check"] else "Restored and compared"
        self.stdout.write(
            f"{done}: {manifest.rows} rows, {manifest.files} files, as of {manifest.made_at}, "
            f"version {manifest.version}."
        )
        if manifest.missing_files:
            self.stderr.write(f"{manifest.missing_files} files were missing when the backup was made.")

    def _tell(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
