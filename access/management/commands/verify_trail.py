"""Check the whole trail and name the first broken row of each chain."""

from collections import defaultdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from access import verify
from access.management.commands.trail_heads import SERVICE


class Command(BaseCommand):
    help = "Check the trail of every clinic. Exit code 1 if a row was changed, removed, inserted or moved."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--heads", help="a file written by trail_heads and kept outside this database")

    def handle(self, *args: Any, **options: Any) -> None:
        broken = 0
        for result in verify.verify_all(_kept(options["heads"])):
            chain = SERVICE if result.clinic_id is None else f"clinic {result.clinic_id}"
            if result.whole:
                self.stdout.write(f"{chain}: {result.rows} rows, unbroken.")
            else:
                broken += 1
                self.stdout.write(f"{chain}: BROKEN at row {result.broken_at}. {result.fault}")
        if broken:
            raise CommandError("The trail is broken.", returncode=1)


def _kept(name: str | None) -> dict[int | None, dict[int, str]]:
    kept: dict[int | None, dict[int, str]] = defaultdict(dict)
    if name is None:
        return kept
    try:
        lines = Path(name).read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise CommandError(f"The file of heads cannot be read: {error.strerror}.") from None
    for number, line in enumerate(lines, start=1):
        try:
            chain, sequence, mark = line.split()
            kept[None if chain == SERVICE else int(chain)][int(sequence)] = mark
        except ValueError:
            raise CommandError(f"Line {number} of the file of heads is not: clinic, row, hash.") from None
    return kept
