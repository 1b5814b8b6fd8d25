"""Whatever is done to the trail beside this service, the check names the first row concerned."""

import io
import threading

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.db.models import F

from access import trail_guard
from access.models import TrailHead, TrailRow
from access.trail import record_view
from access.verify import heads, verify_all, verify_chain


@pytest.fixture
def five_rows(measurer, clinic):
    """Five rows in one clinic's chain, and a database whose guard somebody has taken off."""
    for patient in range(1, 6):
        record_view(measurer, "patient page viewed", patient=patient)
    with connection.cursor() as cursor:
        for statement in trail_guard.DOWN[connection.vendor]:
            if "trail_is_not_emptied" not in statement and "FUNCTION" not in statement:
                cursor.execute(statement)
    return TrailRow.objects.filter(clinic=clinic)


CHANGES = {
    "user_id": None,
    "role": "reporter",
    "action": "patient page printed",
    "subject_type": "visits.exam",
    "subject_id": "9",
    "patient_id": 99,
    "details_json": "{} ",
    "request_id": "another",
    "came_from": "192.0.2.99",
    "hash": "0" * 64,
    "previous_hash": "1" * 64,
}


@pytest.mark.parametrize("field", CHANGES)
def test_a_changed_row_is_named(five_rows, clinic, field):
    five_rows.filter(sequence=3).update(**{field: CHANGES[field]})

    assert verify_chain(clinic.pk).broken_at == 3


def test_a_time_changed_by_one_microsecond_is_named(five_rows, clinic):
    row = five_rows.get(sequence=3)
    five_rows.filter(sequence=3).update(at=row.at.replace(microsecond=(row.at.microsecond + 1) % 1_000_000))

    assert verify_chain(clinic.pk).broken_at == 3


def test_a_removed_row_is_named(five_rows, clinic):
    five_rows.filter(sequence=2).delete()

    result = verify_chain(clinic.pk)
    assert (result.broken_at, result.fault) == (2, "Row 2 is missing: row 3 follows row 1.")


def test_a_removed_end_is_named(five_rows, clinic):
    five_rows.filter(sequence__gt=3).delete()

    result = verify_chain(clinic.pk)
    assert (result.broken_at, result.fault) == (4, "Row 4 is missing: 5 rows were written.")


def test_rows_that_changed_places_are_named(five_rows, clinic):
    five_rows.filter(sequence=2).update(sequence=20)
    five_rows.filter(sequence=3).update(sequence=2)
    five_rows.filter(sequence=20).update(sequence=3)

    assert verify_chain(clinic.pk).broken_at == 2


def test_a_row_moved_to_another_clinic_is_named(five_rows, clinic, other_clinic):
    five_rows.filter(sequence=5).update(clinic=other_clinic, sequence=1)

    assert [result.broken_at for result in verify_all() if not result.whole] == [5, 1]


def test_an_end_removed_together_with_its_record_is_found_by_a_head_kept_outside(five_rows, clinic):
    kept = {number: mark for _, number, mark in heads()}
    fourth = five_rows.get(sequence=4)
    five_rows.filter(sequence=5).delete()
    TrailHead.objects.filter(clinic=clinic).update(sequence=F("sequence") - 1, hash=fourth.hash)

    assert verify_chain(clinic.pk).whole
    assert verify_chain(clinic.pk, kept).broken_at == 5


def test_a_trail_emptied_altogether_is_named(five_rows, clinic):
    five_rows.delete()

    assert verify_chain(clinic.pk).broken_at == 1


def test_an_untouched_trail_is_whole(five_rows, clinic):
    result = verify_chain(clinic.pk)

    assert (result.whole, result.rows) == (True, 5)


def test_the_command_ends_well_on_an_untouched_trail(five_rows, clinic):
    said = io.StringIO()

    call_command("verify_trail", stdout=said)

    assert said.getvalue() == f"clinic {clinic.pk}: 5 rows, unbroken.\n"


def test_the_command_names_the_broken_row_and_ends_with_1(five_rows, clinic):
    five_rows.filter(sequence=3).update(action="nothing happened")
    said = io.StringIO()

    with pytest.raises(CommandError) as ended:
        call_command("verify_trail", stdout=said)

    assert ended.value.returncode == 1
    assert f"clinic {clinic.pk}: BROKEN at row 3." in said.getvalue()


def test_heads_kept_in_a_file_are_compared(five_rows, clinic, tmp_path):
    said = io.StringIO()
    call_command("trail_heads", stdout=said)
    kept = tmp_path / "heads.txt"
    kept.write_text(said.getvalue().replace(" 5 ", " 6 "), encoding="utf-8")

    with pytest.raises(CommandError, match="broken"):
        call_command("verify_trail", "--heads", str(kept), stdout=io.StringIO())


def test_a_file_of_heads_that_cannot_be_understood_is_refused(five_rows, tmp_path):
    kept = tmp_path / "heads.txt"
    kept.write_text("clinic one\n", encoding="utf-8")

    with pytest.raises(CommandError, match="Line 1 of the file of heads"):
        call_command("verify_trail", "--heads", str(kept))


@pytest.mark.django_db(transaction=True)
def test_eight_people_at_once_write_one_unbroken_chain(measurer, clinic):
    def twenty_five_views():
        for patient in range(25):
            record_view(measurer, "patient page viewed", patient=patient + 1)
        connections.close_all()

    threads = [threading.Thread(target=twenty_five_views) for _ in range(8)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]

    result = verify_chain(clinic.pk)
    assert (result.rows, result.fault) == (200, "")
