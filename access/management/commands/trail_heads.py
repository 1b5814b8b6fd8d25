"""Print the last row of every chain, to be kept where nobody who can reach the database can reach it."""

from typing import Any

from django.core.management.base import BaseCommand

from access import verify

SERVICE = "service"


class Command(BaseCommand):
    help = "Print the last row of every chain: clinic, row, hash. Keep it outside; see verify_trail --heads."

    def handle(self, *args: Any, **options: Any) -> None:
        for clinic_id, sequence, mark in verify.heads():
            self.stdout.write(f"{SERVICE if clinic_id is None else clinic_id} {sequence} {mark}")
