"""``python manage.py recompute_results``: do the stored findings still say what the core says?"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from access.models import User
from access.people import person_for
from exams.visits.models import Exam, ExamState
from exams.visits.services import differences, store_again


class Command(BaseCommand):
    help = "Compute the findings of every exam again and name each that differs from what is stored."

    def add_arguments(self, parser: CommandParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--check", action="store_true", help="compare only; fails if any differs")
        what.add_argument(
            "--store-as",
            metavar="EMAIL",
            help="store what differs, acting as this person",
        )
        parser.add_argument("--exam", type=int, help="only the exam of this number")

    def handle(self, *args: Any, **options: Any) -> None:
        user = self._user(options["store_as"]) if options["store_as"] else None
        # What was entered in error stays as it was read: it must open no hand-over slip again.
        exams = Exam.objects.exclude(state=ExamState.IN_ERROR).select_related("clinic", "patient")
        exams = exams.order_by("pk")
        if options["exam"]:
            exams = exams.filter(pk=options["exam"])
        looked_at = differing = 0
        for exam in exams.iterator(chunk_size=200):
            looked_at += 1
            found = differences(exam)
            differing += bool(found)
            for one in found:
                limb = one.limb or "whole exam"
                self.stdout.write(
                    f"exam {one.exam_id}, {limb}, {one.measure}: stored {one.stored!r}, now {one.now!r}"
                )
            if found and user is not None:
                store_again(exam=exam, by=person_for(user, exam.clinic_id))
        self.stdout.write(f"{looked_at} exams looked at, {differing} differ.")
        if differing and user is None:
            raise CommandError("Stored findings differ from what is computed now. Nothing was changed.")

    def _user(self, email: str) -> User:
        user = User.objects.filter(email__iexact=email, is_active=True).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {email}.")
        return user
