"""Two people at one exam at the same instant."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection, transaction

from exams.patients.models import Caution
from exams.patients.services import add_caution
from exams.visits.errors import StaleValue
from exams.visits.models import Exam
from exams.visits.queries.chart import chart_of
from exams.visits.services import confirm_cautions, differences
from tests.build import enter, new_patient, ready_exam


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


def protected_left_arm(by):
    patient = new_patient(by)
    caution = add_caution(
        patient=patient,
        side="left",
        region="arm",
        kind="fistula",
        do_not_inflate=True,
        source="seen",
        by=by,
    )
    return patient, caution


def test_cautions_confirmed_twice_at_once_give_a_protected_arm_one_reason(transactional_db, measurer):
    patient, _ = protected_left_arm(measurer)
    exam = ready_exam(measurer, patient)
    enter(exam, "left.arm.1", "", measurer)

    together(*[lambda: confirm_cautions(exam=exam, by=measurer)] * 4)

    assert exam.readings.filter(withdrawn=False, replaced_by=None).count() == 1
    assert differences(exam) == []


# SQLite lets one act write at a time: there is nothing to wait for each other with.
@pytest.mark.postgres
def test_who_changes_a_caution_and_who_confirms_it_never_wait_for_each_other(transactional_db, measurer):
    patient, caution = protected_left_arm(measurer)
    exam = ready_exam(measurer, patient)

    with ThreadPoolExecutor(1) as pool, transaction.atomic():
        Caution.objects.select_for_update().get(pk=caution.pk)
        other = pool.submit(confirm_in_a_thread, exam, measurer)
        while not somebody_waits_for_us():
            assert not other.done()
        # As whoever changed the caution goes on to do; taken already, this would fail at once.
        Exam.objects.select_for_update(nowait=True).get(pk=exam.pk)

    assert other.result().cautions_confirmed_at is not None


def confirm_in_a_thread(exam, by):
    try:
        return confirm_cautions(exam=exam, by=by)
    finally:
        connection.close()


def somebody_waits_for_us() -> bool:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity WHERE pg_backend_pid() = ANY(pg_blocking_pids(pid))"
        )
        return cursor.fetchone()[0] > 0
