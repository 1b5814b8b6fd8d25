"""Make the demonstration once, and say how to sign in."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from access import clock
from access.models import Clinic
from access.trail import one_act
from vaslab.demo.audited import count_two_years
from vaslab.demo.invented import invented
from vaslab.demo.staff import PASSWORD, SERVICE, STAFF
from vaslab.demo.stories import STORIES
from vaslab.demo.tell import tell_everything


class Command(BaseCommand):
    help = "Make the demonstration with invented people, unless it is there; print the sign-ins."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError(
                "The demonstration is made only where VASLAB_DEMO=1: it signs in by password alone."
            )
        if Clinic.objects.exists():
            self.stdout.write("The demonstration is there already; its data are kept.")
        else:
            self.stdout.write(f"Making the demonstration: {SERVICE}, invented people.")
            # All or nothing: a start broken off halfway begins anew, and is not taken for a whole one.
            with one_act():
                tell_everything(
                    clock.now(), lambda step: self.stdout.write(f"  {step}"), (*STORIES, *invented())
                )
                count_two_years(lambda step: self.stdout.write(f"  {step}"))
        self.stdout.write(f"\nSign-ins (password for all: {PASSWORD})")
        for one in STAFF:
            clinics = ", ".join(sorted({clinic for _, clinic in one.roles if clinic})) or "the whole service"
            self.stdout.write(f"  {one.email:<32} {one.does} · {clinics}")
