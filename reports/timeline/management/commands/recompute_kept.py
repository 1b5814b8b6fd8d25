"""``python manage.py recompute_kept``: does what is kept of each record still say what the record says?"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from exams.patients.models import Patient
from exams.wounds.queries import keeping as outlooks
from reports.timeline.keeping import differing, keep_now, mark_changed


class Command(BaseCommand):
    help = "Make what is kept of every record again, and name each record of which something else is kept."

    def add_arguments(self, parser: CommandParser) -> None:
        what = parser.add_mutually_exclusive_group(required=True)
        what.add_argument("--check", action="store_true", help="compare only; fails if any differs")
        what.add_argument(
            "--store", action="store_true", help="keep what the record says now, of every record"
        )
        parser.add_argument("--patient", type=int, help="only the record of this number")

    def handle(self, *args: Any, **options: Any) -> None:
        patients = Patient.objects.filter(merged_into=None).select_related("clinic").order_by("pk")
        if options["patient"]:
            patients = patients.filter(pk=options["patient"])
        found = list(differing(patients.iterator(chunk_size=200)))
        for patient in patients.iterator(chunk_size=200):
            found += [(patient.pk, f"outlook {side}") for side in outlooks.differing_feet(patient)]
        for number, part in found:
            self.stdout.write(f"record {number}: its {part} is kept otherwise than it is now")
        if options["store"]:
            mark_changed([number for number, _ in found])
            outlooks.mark_changed([number for number, _ in found])
            for patient in patients.iterator(chunk_size=200):
                keep_now(patient)
                outlooks.keep_now(patient)
        self.stdout.write(f"{patients.count()} records looked at, {len({one for one, _ in found})} differ.")
        if found and options["check"]:
            raise CommandError("Something else is kept than the records say now. Nothing was changed.")
