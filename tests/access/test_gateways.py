"""Bedside gateways: a device of one clinic that may send, and nothing else, while its token is in force."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from access import clock, queries, services, tokens
from access.bearer import MOST_FAILURES
from access.models import AccessToken, Membership, TrailRow, User
from access.people import person_for
from tests.people import sending_client, token_of

SENDING = reverse("traces_api:begin")


@pytest.fixture
def added(clinic, system_administrator):
    """A gateway of Alder House and its token."""
    return tokens.add_gateway(name="Room 2", clinic=clinic, days=90, by=system_administrator)


def asks(token: str):
    return Client().post(SENDING, {}, "application/json", headers={"Authorization": f"Bearer {token}"})


def test_a_gateway_acts_in_one_clinic_and_may_only_send(added, clinic):
    user, token = added

    acting = tokens.whose(token).person

    assert (acting.user, acting.clinic, acting.roles) == (user, clinic, {"gateway"})


def test_only_a_hash_of_the_token_is_kept(added):
    _, token = added
    kept = [*AccessToken.objects.values_list("token_hash", flat=True)]
    kept += TrailRow.objects.values_list("details_json", flat=True)

    assert len(kept) == 3
    assert not [text for text in kept if token in text]


def test_the_trail_of_its_clinic_says_who_made_and_who_revoked_a_token(added, clinic, system_administrator):
    user, _ = added

    tokens.revoke_token(queries.gateway(system_administrator, user.pk), by=system_administrator)

    lines = TrailRow.objects.filter(clinic=clinic).order_by("pk").values_list("action", "user__full_name")
    assert list(lines) == [
        ("gateway added", "Sysa Systemsdottir"),
        ("gateway token made", "Sysa Systemsdottir"),
        ("gateway token revoked", "Sysa Systemsdottir"),
    ]


@pytest.mark.parametrize("days", [0, 366])
def test_a_token_is_good_for_a_year_at_most(clinic, system_administrator, days):
    with pytest.raises(ValidationError, match="1 to 365 days"):
        tokens.add_gateway(name="Room 2", clinic=clinic, days=days, by=system_administrator)

    assert not User.objects.filter(signs_in=False).exists()


def test_nobody_but_the_system_administrator_adds_a_gateway(clinic, administrator):
    with pytest.raises(PermissionDenied):
        tokens.add_gateway(name="Room 2", clinic=clinic, days=90, by=administrator)


def test_a_token_that_is_not_known_is_refused(db):
    assert tokens.whose("guessed").fault == "unknown"


def test_an_expired_token_is_refused(added):
    with clock.at(clock.now() + timedelta(days=90)):
        assert tokens.whose(added[1]).fault == "expired"


def test_a_revoked_token_is_refused_and_cannot_be_revoked_again(added, system_administrator):
    gateway = queries.gateway(system_administrator, added[0].pk)
    tokens.revoke_token(gateway, by=system_administrator)

    assert tokens.whose(added[1]).fault == "revoked"
    with pytest.raises(ValidationError, match="already"):
        tokens.revoke_token(gateway, by=system_administrator)


def test_a_new_token_stops_the_one_before(added, system_administrator):
    user, first = added

    second = tokens.renew_token(
        queries.gateway(system_administrator, user.pk), days=30, by=system_administrator
    )

    assert tokens.whose(first).fault == "revoked"
    assert tokens.whose(second).person.user == user


def test_the_page_shows_when_a_gateway_was_last_used(added, client_as, system_administrator):
    page = reverse("access:gateways")
    assert ">never<" in client_as(system_administrator).get(page).content.decode()

    tokens.whose(added[1])

    assert ">never<" not in client_as(system_administrator).get(page).content.decode()


def test_the_token_is_shown_once(client_as, clinic, system_administrator):
    client = client_as(system_administrator)
    typed = {"name": "Room 2", "clinic": clinic.pk, "days": "365"}

    shown = client.post(reverse("access:add_gateway"), typed)

    token = shown.context["token"]
    assert token in shown.content.decode()
    assert shown.headers["Cache-Control"].startswith("max-age=0, no-cache, no-store")
    assert token not in client.get(reverse("access:gateways")).content.decode()


def test_two_gateways_of_one_clinic_have_two_names(added, clinic, client_as, system_administrator):
    typed = {"name": "room 2", "clinic": clinic.pk, "days": "365"}

    answer = client_as(system_administrator).post(reverse("access:add_gateway"), typed)

    assert answer.status_code == 422
    assert "This clinic has a gateway of that name" in answer.content.decode()


def test_a_gateway_is_no_member_of_staff(added, client_as, system_administrator):
    client = client_as(system_administrator)

    assert "Room 2" not in client.get(reverse("access:staff")).content.decode()
    assert client.get(reverse("access:member", args=[added[0].pk])).status_code == 404


def test_a_gateway_never_gets_a_password(added, system_administrator):
    user, _ = added

    with pytest.raises(ValidationError, match="A device has no password"):
        services.new_password_link(user=user, by=system_administrator)
    user.set_password("a walk along the quiet fen")
    with pytest.raises(IntegrityError, match="a_device_has_no_password"):
        user.save()


def test_a_gateway_gets_no_second_role_and_a_person_never_that_of_a_device(
    added, clinic, measurer, system_administrator
):
    for user, role in ((added[0], "measurer"), (measurer.user, "gateway")):
        with pytest.raises(ValidationError, match="A device has one role"):
            services.grant_role(user=user, clinic=clinic, role=role, by=system_administrator)


def test_a_gateway_serves_one_clinic(added, other_clinic):
    with pytest.raises(IntegrityError):
        Membership.objects.create(user=added[0], clinic=other_clinic, role="gateway")


def test_a_token_opens_no_page(gateway):
    answer = sending_client(gateway).get(reverse("today"))

    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/accounts/login/")


def test_a_sign_in_opens_no_address_for_programs(measurer, client_as):
    answer = client_as(measurer).post(SENDING, {}, "application/json")

    assert (answer.status_code, answer.json()["code"]) == (401, "token_missing")


def test_even_with_a_session_a_device_opens_no_page_of_a_person(gateway, client_as):
    assert client_as(gateway).get(reverse("access:account")).status_code == 403


def test_neither_the_second_factor_nor_the_idle_lock_stands_before_a_token(gateway, settings):
    settings.SECOND_FACTOR_REQUIRED = True
    client = sending_client(gateway)

    assert client.post(SENDING, {}, "application/json").status_code == 422
    with clock.at(clock.now() + timedelta(hours=20)):
        assert client.post(SENDING, {}, "application/json").status_code == 422
    assert "sessionid" not in client.cookies


# In one process: the counter lies in a cache that tests running beside it empty.
@pytest.mark.workers
def test_whoever_keeps_knocking_waits_and_leaves_ten_lines(db):
    codes = [asks("guessed").status_code for _ in range(MOST_FAILURES + 2)]

    assert codes == [401] * MOST_FAILURES + [429] * 2
    assert TrailRow.objects.filter(action="token refused").count() == MOST_FAILURES


def test_a_token_in_force_never_waits_for_the_failures_of_a_neighbour(gateway):
    for _ in range(MOST_FAILURES + 1):
        asks("guessed")

    assert asks(token_of(gateway.user)).status_code == 422


def test_a_token_refused_leaves_a_line_that_names_the_device(gateway):
    with clock.at(clock.now() + timedelta(days=2)):
        answer = asks(token_of(gateway.user))

    line = TrailRow.objects.get(action="token refused")
    assert (line.user, line.clinic, line.details) == (gateway.user, gateway.clinic, {"what": "expired"})
    assert answer.json()["code"] == "token_expired"
    assert answer.headers["WWW-Authenticate"] == "Bearer"


def test_a_disabled_account_sends_nothing(gateway):
    User.objects.filter(pk=gateway.user.pk).update(is_active=False, disabled_at=clock.now())

    assert asks(token_of(gateway.user)).status_code == 401
    assert person_for(gateway.user).roles == {"gateway"}
