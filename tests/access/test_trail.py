"""The trail: an act, its changes and its lines are kept together or not at all."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import Error, connection, transaction

from access import acting, clock, trail_guard
from access.models import Clinic, TrailRow
from access.permissions import require
from access.trail import _told_of_changes, one_act, record, record_each, record_view
from access.verify import verify_chain
from tests.people import person

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_a_view_is_one_row_that_says_who_when_in_which_role_and_for_whom(measurer, clinic):
    with clock.at(NOON):
        record_view(measurer, "patient page viewed", patient=17)

    row = TrailRow.objects.get()
    assert (row.user, row.role, row.clinic) == (measurer.user, "measurer", clinic)
    assert (row.action, row.patient_id, row.at, row.sequence) == ("patient page viewed", 17, NOON, 1)


def test_a_row_says_which_request_it_came_from(measurer):
    acting.begin_request(acting.Origin(request_id="r-1", address="192.0.2.7"))
    record_view(measurer, "patient page viewed", patient=17)
    acting.end_request()

    row = TrailRow.objects.get()
    assert (row.request_id, row.came_from) == ("r-1", "192.0.2.7")


def test_of_several_roles_the_one_that_allowed_the_act_is_recorded(clinic):
    both = person("Bo Both", clinic, "measurer", "reporter")
    require(both, "edit conclusion")

    record_view(both, "conclusion changed")

    assert TrailRow.objects.get().role == "reporter"


def test_old_and_new_values_are_kept_as_typed(measurer):
    with one_act():
        record(
            measurer,
            "reading corrected",
            details={"old": Decimal("48.5"), "new": 84, "why": "Müll – ü"},
        )

    assert TrailRow.objects.get().details == {"old": "48.5", "new": 84, "why": "Müll – ü"}


@pytest.mark.parametrize("typed", ["\x00", "\ud800", "\U0001f9b6", "\u202e"])
def test_whatever_was_typed_the_line_is_written(measurer, clinic, typed):
    with one_act():
        record(measurer, "note changed", details={"new": typed})

    assert TrailRow.objects.get().details == {"new": typed}
    assert verify_chain(clinic.pk).whole


def test_a_line_outside_an_act_is_refused(measurer):
    with pytest.raises(RuntimeError, match="inside one_act"):
        record(measurer, "reading recorded")


@one_act()
def open_mill_lane(*, by, said="clinic added", then_fail=False):
    Clinic.objects.create(name="Mill Lane")
    record(by, said)
    if then_fail:
        raise ZeroDivisionError


def test_an_act_that_fails_leaves_neither_its_change_nor_its_line(measurer):
    with pytest.raises(ZeroDivisionError):
        open_mill_lane(by=measurer, then_fail=True)

    assert not Clinic.objects.filter(name="Mill Lane").exists()
    assert not TrailRow.objects.exists()


def test_if_the_line_cannot_be_written_nothing_of_the_act_is_kept(measurer):
    with pytest.raises(ValidationError, match="at most 100 characters"):
        open_mill_lane(by=measurer, said="x" * 101)

    assert not Clinic.objects.filter(name="Mill Lane").exists()


def test_an_inner_act_joins_the_outer_one(measurer):
    with one_act():
        record(measurer, "exam booked")
        with one_act():
            record(measurer, "patient added")

    assert [row.action for row in TrailRow.objects.order_by("sequence")] == ["exam booked", "patient added"]


def test_an_inner_act_that_fails_takes_only_its_own_line_with_it(measurer):
    with one_act():
        record(measurer, "file read")
        with pytest.raises(ZeroDivisionError):
            open_mill_lane(by=measurer, then_fail=True)

    assert [row.action for row in TrailRow.objects.all()] == ["file read"]


@pytest.mark.django_db(transaction=True)
def test_an_act_inside_a_bare_transaction_is_refused(measurer):
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic(), one_act():
        record(measurer, "reading recorded")


def test_each_clinic_has_a_chain_of_its_own_and_so_has_the_service(measurer, outsider):
    record_view(measurer, "patient page viewed", patient=1)
    record_view(outsider, "patient page viewed", patient=2)
    with one_act():
        record(None, "sign-in failed")

    assert [row.sequence for row in TrailRow.objects.all()] == [1, 1, 1]
    assert TrailRow.objects.get(clinic=None).user is None


def test_a_line_about_something_that_is_not_stored_is_refused(measurer):
    with pytest.raises(TypeError, match="about a stored row"), one_act():
        record(measurer, "reading recorded", "a reading")


def test_the_clock_needs_a_time_zone():
    with pytest.raises(ValueError, match="time zone"), clock.at(datetime(2026, 11, 25, 12, 0)):  # noqa: DTZ001
        pass


@pytest.fixture
def guarded(measurer):
    """One row in a database that has its last guard back; other tests do without, to empty their tables."""
    record_view(measurer, "patient page viewed", patient=17)
    with connection.cursor() as cursor:
        for statement in trail_guard.EMPTYING_UP[connection.vendor]:
            cursor.execute(statement)


def test_the_database_refuses_to_change_a_row(guarded):
    with pytest.raises(Error, match="never changed: UPDATE refused"):
        TrailRow.objects.update(action="nothing happened")


def test_the_database_refuses_to_delete_a_row(guarded):
    with pytest.raises(Error, match="never changed: DELETE refused"):
        TrailRow.objects.all()._raw_delete("default")


@pytest.mark.postgres
def test_the_database_refuses_to_empty_the_trail(guarded):
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")  # a pending check would refuse it first
        with pytest.raises(Error, match="never changed: TRUNCATE refused"):
            cursor.execute("TRUNCATE access_trailrow")


def test_the_hash_speaks_of_the_whole_row(measurer, clinic):
    record_view(measurer, "patient page viewed", patient=17)

    assert verify_chain(clinic.pk).whole


def test_lines_about_many_patients_are_chained_like_others_and_tell_of_each_change(measurer):
    told = []
    _told_of_changes.append(told.extend)
    try:
        with one_act():
            record(measurer, "table taken in")
            record_each(
                measurer,
                "taken in with a table",
                None,
                lambda: ((one, {"exams": [one]}) for one in range(2_500)),
            )
            record(measurer, "table told of")
    finally:
        _told_of_changes.remove(told.extend)

    rows = list(TrailRow.objects.order_by("sequence").values_list("action", "patient_id"))[-2_502:]
    assert rows[0] == ("table taken in", None)
    assert [patient for _, patient in rows[1:-1]] == list(range(2_500)) == told
    assert rows[-1] == ("table told of", None)
    assert not verify_chain(measurer.clinic.pk).fault
