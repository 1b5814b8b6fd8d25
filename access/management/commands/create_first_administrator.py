"""Make the first system administrator of a new installation."""

import getpass
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from access import services


class Command(BaseCommand):
    help = (
        "Make the first system administrator. What is not given is asked for; the password may come by pipe."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", nargs="?")
        parser.add_argument("full_name", nargs="?")

    def handle(self, *args: Any, **options: Any) -> None:
        email = options["email"] or _ask("Email: ")
        full_name = options["full_name"] or _ask("Full name: ")
        # Never an argument: the list of running programs would show it.
        at_a_terminal = sys.stdin.isatty()
        typed = getpass.getpass("Password (at least 12): ") if at_a_terminal else sys.stdin.readline()
        try:
            user = services.create_first_administrator(
                email=email, full_name=full_name, password=typed.rstrip("\n")
            )
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from None
        self.stdout.write(f"System administrator number {user.pk} made. Sign in to set up the second factor.")


def _ask(question: str) -> str:
    if not sys.stdin.isatty():
        raise CommandError("Give the email and the full name: create_first_administrator EMAIL 'FULL NAME'.")
    return input(question)
