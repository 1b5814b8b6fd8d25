"""The page on which the trail is read: own clinic, filters, and nothing that names a patient."""

from datetime import UTC, datetime

import pytest
from django.urls import reverse

from access import clock
from access.models import TrailRow
from access.trail import one_act, record, record_view

HERE = reverse("access:trail")


@pytest.fixture
def some_rows(measurer, reporter, outsider):
    with clock.at(datetime(2026, 11, 24, 23, 30, tzinfo=UTC)):
        record_view(measurer, "patient page viewed", patient=3)
    with clock.at(datetime(2026, 11, 25, 9, 0, tzinfo=UTC)):
        record_view(reporter, "exam viewed", patient=4)
        record_view(outsider, "record of the other clinic viewed", patient=5)
        with one_act():
            record(measurer, "name corrected", patient=3, details={"old": "Agatha", "new": "Agnes"})


def actions(answer):
    return [row.action for row in answer.context["found"].rows]


def test_the_trail_of_ones_own_clinic_is_read_newest_first(some_rows, administrator, client_as):
    answer = client_as(administrator).get(HERE)

    assert actions(answer) == ["name corrected", "exam viewed", "patient page viewed"]


def test_old_and_new_values_are_not_shown(some_rows, administrator, client_as):
    page = client_as(administrator).get(HERE).content.decode()

    assert "Agatha" not in page
    assert "Agnes" not in page


def test_it_is_narrowed_by_person(some_rows, administrator, client_as, reporter):
    assert actions(client_as(administrator).get(HERE, {"person": reporter.user.pk})) == ["exam viewed"]


def test_it_is_narrowed_by_patient_number(some_rows, administrator, client_as):
    answer = client_as(administrator).get(HERE, {"patient": "3"})

    assert actions(answer) == ["name corrected", "patient page viewed"]


def test_it_is_narrowed_by_day_on_the_clinics_wall(some_rows, administrator, client_as, clinic):
    # 23:30 in UTC on the 24th is half past eight in the morning of the 25th in Tokyo.
    clinic.time_zone = "Asia/Tokyo"
    clinic.save()

    assert len(actions(client_as(administrator).get(HERE, {"day": "2026-11-25"}))) == 3
    assert "25 Nov 2026 08:30" in client_as(administrator).get(HERE).content.decode()


@pytest.mark.parametrize("typed", [{"day": "someday"}, {"patient": "Agatha"}, {"patient": "9" * 40}])
def test_what_cannot_be_looked_for_is_said_at_the_field(some_rows, administrator, client_as, typed):
    answer = client_as(administrator).get(HERE, typed)

    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == set(typed)


def test_an_administrator_does_not_read_the_services_own_trail(some_rows, administrator, client_as):
    assert client_as(administrator).get(HERE, {"chain": "service"}).status_code == 404


def test_a_system_administrator_reads_the_services_own_trail(system_administrator, client_as):
    with one_act():
        record(None, "sign-in failed")

    assert actions(client_as(system_administrator).get(HERE, {"chain": "service"})) == ["sign-in failed"]


def test_a_long_trail_is_read_page_by_page(measurer, administrator, client_as):
    with one_act():
        for patient in range(1, 131):
            record(measurer, "patient page viewed", patient=patient)
    client = client_as(administrator)

    first = client.get(HERE)
    second = client.get(f"{HERE}?{first.context['older']}")

    assert [row.sequence for row in second.context["found"].rows] == list(range(30, 0, -1))
    assert second.context["older"] == ""


def test_the_trail_is_checked_from_the_page(some_rows, administrator, client_as):
    page = client_as(administrator).post(reverse("access:verify_trail")).content.decode()

    assert "The trail is whole" in page


def test_reading_the_trail_is_itself_in_the_trail(some_rows, administrator, client_as):
    client_as(administrator).get(HERE, {"patient": "3"})

    row = TrailRow.objects.get(action="trail read")
    assert (row.user, row.patient_id) == (administrator.user, 3)
