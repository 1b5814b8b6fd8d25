"""Make the first system administrator of a new installation."""

import getpass
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from access import services


class Command(BaseCommand):
    help = "Make the first system administrator. The password is asked for, or read from a pipe."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email")
        parser.add_argument("full_name")

    def handle(self, *args: Any, **options: Any) -> None:
        # Never an argument: the list of running programs would show it.
        typed = (
            getpass.getpass("Password (at least 12 characters): ")
            if sys.stdin.isatty()
            else sys.stdin.readline()
        )
        try:
            user = services.create_first_administrator(
                email=options["email"], full_name=options["full_name"], password=typed.rstrip("\n")
            )
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        self.stdout.write(f"System administrator number {user.pk} made. Sign in to set up the second factor.")
