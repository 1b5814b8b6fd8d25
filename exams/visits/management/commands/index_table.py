"""python manage.py index_table IN.csv --criteria NAME --out OUT.csv"""

from argparse import RawDescriptionHelpFormatter
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from exams.hemodynamics import InputError, criteria_names, load_criteria
from exams.visits.index_table import (
    INPUT_COLUMNS,
    OPTIONAL_COLUMNS,
    OUTPUT_COLUMNS,
    TableError,
    write_index_table,
)

HELP = f"""Indices, bands, pattern and flags of every exam in a CSV file (UTF-8, comma).

Input columns, any of which may be missing:
  {", ".join(INPUT_COLUMNS)}
Optional columns:
  {", ".join(OPTIONAL_COLUMNS)}

A pressure cell is mmHg (whole or half), not_occludable, not_occludable_at_N, no_signal, not_done or blank.
first_arm is right, left or blank; where it is blank, an arm with a repeat is taken as the one measured first.
diabetes and kidney_disease are yes, no or blank (unknown); without a column kidney_disease, diabetes answers
for both. The toe is the hallux. A repeat at an ankle or toe gives the mean of both readings.

A column of another name is not read, and named at the end; one that looks like a slip of the pen is refused.

Output columns:
  {", ".join(OUTPUT_COLUMNS)}
A cell that cannot be read voids what depends on it and is named in "error". Codes and flags: docs/core.md.
"""


class Command(BaseCommand):
    help = HELP

    def create_parser(self, prog_name, subcommand, **kwargs):
        return super().create_parser(
            prog_name, subcommand, formatter_class=RawDescriptionHelpFormatter, **kwargs
        )

    def add_arguments(self, parser):
        parser.add_argument("source", metavar="IN.csv", type=Path)
        parser.add_argument(
            "--criteria", required=True, metavar="NAME", help=f"one of {', '.join(criteria_names())}"
        )
        parser.add_argument("--out", required=True, metavar="OUT.csv", type=Path)

    def handle(self, *, source, criteria, out, **options):
        try:
            chosen = load_criteria(criteria)
            summary = write_index_table(source, out, chosen)
        except InputError as error:
            names = ", ".join(criteria_names())
            raise CommandError(f"There are no criteria named '{criteria}'. There are: {names}.") from error
        except TableError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"{summary.rows} rows under {chosen.label} written to {out}; {summary.with_error} name an error."
        )
        if summary.left_aside:
            self.stdout.write(
                f"Columns that are none of ours were not read: {', '.join(summary.left_aside)}."
            )
