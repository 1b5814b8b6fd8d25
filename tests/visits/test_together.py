"""Two people at one exam at the same instant."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection

from exams.visits.errors import StaleValue
from exams.visits.queries.chart import chart_of
from exams.visits.services import differences
from tests.build import enter, ready_exam


def together(*acts):
    """Run the acts at once, each in a thread with a connection of its own; results or errors in order."""
    start = Barrier(len(acts))

    def run(act):
        try:
            start.wait(timeout=10)
            return act()
        except StaleValue as stale:
            return stale
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


def test_of_two_values_for_one_field_one_stands_and_the_other_is_told(transactional_db, measurer):
    exam = ready_exam(measurer)

    answers = together(
        lambda: enter(exam, "right.toe_1.1", 48, measurer, seen_revision=0),
        lambda: enter(exam, "right.toe_1.1", 84, measurer, seen_revision=0),
    )

    assert sum(isinstance(answer, StaleValue) for answer in answers) == 1
    assert exam.readings.count() == 1


def test_values_for_different_fields_are_all_kept_and_read_together(transactional_db, measurer):
    exam = ready_exam(measurer)

    together(
        lambda: enter(exam, "right.arm.1", 140, measurer, seen_revision=0),
        lambda: enter(exam, "left.arm.1", 138, measurer, seen_revision=0),
        lambda: enter(exam, "right.toe_1.1", 84, measurer, seen_revision=0),
    )

    exam.refresh_from_db()
    assert len(chart_of(exam).standing) == 3
    assert differences(exam) == []
