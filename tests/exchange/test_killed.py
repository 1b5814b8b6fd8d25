"""A worker is killed while it takes a table in: nothing half is on record, the next worker finishes it."""

import pytest

from access.models import TrailRow
from exams.patients.models import Patient
from exams.visits.models import Exam, Reading, Result
from jobs.models import Job
from reports.exchange import services
from reports.exchange.models import ImportedExam
from tests.exchange.make import as_csv, named, row
from tests.processes import kill, until, worker

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]
PEOPLE = 400


def letters(number: int) -> str:
    return "".join(chr(ord("a") + int(digit)) for digit in f"{number:03d}")


def people() -> bytes:
    """Everybody with another name and birth date, so that nobody is taken for somebody else."""
    return as_csv(
        *(
            row(
                Hosp_No=f"OLD-{number}",
                Surname=f"Quill{letters(number)}",
                Forename=f"Person{letters(number * 7 % 1000)}",
                DOB=f"{1 + number % 28} {('Mar', 'Oct')[number % 2]} {1930 + number % 60}",
                R_toe=str(20 + number % 200),
            )
            for number in range(PEOPLE)
        )
    )


def test_a_worker_killed_while_writing_leaves_nothing_half_and_the_next_one_finishes(measurer):
    batch = named(measurer, people())
    with worker() as first:
        job = services.ask_for_check(batch=batch, by=measurer)
        until(lambda: Job.objects.get(pk=job.pk).state == "done", what="the end of the check")
        batch.refresh_from_db()
        job = services.ask_to_take_in(batch=batch, agree_new_people=True, leave_out_refused=True, by=measurer)
        until(lambda: Job.objects.get(pk=job.pk).words == "Writing", what="the beginning of the writing")
        kill(first)

    left = [model.objects.count() for model in (Patient, Exam, Reading, Result, ImportedExam)]
    job.refresh_from_db()
    assert (job.state, left) in (
        ("running", [0] * 5),
        ("running", [PEOPLE, PEOPLE, 8 * PEOPLE, left[3], PEOPLE]),
    )

    with worker():
        until(lambda: Job.objects.get(pk=job.pk).state == "done", what="the end under the second worker")

    batch.refresh_from_db()
    assert batch.state == "imported"
    assert (Patient.objects.count(), Exam.objects.count(), Reading.objects.count()) == (
        PEOPLE,
        PEOPLE,
        8 * PEOPLE,
    )
    assert ImportedExam.objects.filter(batch=batch).count() == PEOPLE
    assert TrailRow.objects.filter(action="taken in with a table").count() == PEOPLE
    assert TrailRow.objects.filter(action="table taken in").count() == 1
