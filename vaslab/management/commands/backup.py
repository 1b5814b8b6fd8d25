"""Keep a backup of everything in a new folder."""

import os
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from vaslab.backup import BackupRefused, keep


class Command(BaseCommand):
    help = (
        "Write every row and every stored file into a new folder, with their sums. The service may go on "
        "meanwhile. Encrypted where VASLAB_BACKUP_KEY_FILE names a key; otherwise the folder holds the whole "
        "record in plain text."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="a new folder, or an empty one")

    def handle(self, *args: Any, **options: Any) -> None:
        usual = os.umask(0o077)  # nobody else of this machine may read it
        try:
            manifest = keep(
                options["folder"], tell=self._tell if options["verbosity"] else lambda words: None
            )
        except BackupRefused as refused:
            raise CommandError(str(refused)) from None
        finally:
            os.umask(usual)
        self.stdout.write(f"Kept: {manifest.rows} rows, {manifest.files} files, in {options['folder']}.")
        self.stdout.write("Inside: " + "; ".join(manifest.holds) + ".")
        self.stdout.write("Not inside: " + "; ".join(manifest.holds_not) + ".")
        if manifest.missing_files:
            self.stderr.write(
                f"{manifest.missing_files} files of the record were not in the file store: named above."
            )

    def _tell(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()
