"""Steps that stand under one's name ask for a proof once more, and lose nothing typed."""

from datetime import timedelta

import pytest
from allauth.mfa.totp.internal.auth import TOTP
from django.urls import reverse

from access import clock
from access.models import User
from access.passkeys import REFUSED
from tests.access.test_passkeys import NO_CREDENTIALS
from tests.access.test_sign_in import SECRET, six_digits

PASSWORD = "a walk along the quiet fen"
NELL = {"full_name": "Nell Newcomer", "email": "nell@fenmarsh.example"}


@pytest.fixture
def client_long_after_signing_in(system_administrator, client_as):
    system_administrator.user.set_password(PASSWORD)
    system_administrator.user.save()
    client = client_as(system_administrator)
    session = client.session
    session["account_authentication_methods"] = [
        {"method": "password", "at": (clock.now() - timedelta(minutes=6)).timestamp()}
    ]
    session.save()
    return client


@pytest.mark.django_db
def test_soon_after_signing_in_the_step_goes_through(system_administrator, client_as):
    client_as(system_administrator).post(reverse("access:add_member"), NELL)

    assert User.objects.filter(email=NELL["email"]).exists()


def test_later_a_proof_is_asked_for_and_nothing_is_changed(client_long_after_signing_in):
    answer = client_long_after_signing_in.post(reverse("access:add_member"), NELL)

    assert answer.status_code == 401
    assert not User.objects.filter(email=NELL["email"]).exists()


def test_what_was_typed_is_carried_along(client_long_after_signing_in):
    page = client_long_after_signing_in.post(reverse("access:add_member"), NELL).content.decode()

    assert '<input type="hidden" name="full_name" value="Nell Newcomer">' in page
    assert '<input type="hidden" name="email" value="nell@fenmarsh.example">' in page


def test_with_the_right_password_the_step_goes_through(client_long_after_signing_in):
    client_long_after_signing_in.post(reverse("access:add_member"), NELL | {"typed_once_more": PASSWORD})

    assert User.objects.filter(email=NELL["email"]).exists()


def test_a_wrong_password_is_said_and_nothing_is_changed(client_long_after_signing_in):
    answer = client_long_after_signing_in.post(
        reverse("access:add_member"), NELL | {"typed_once_more": "not the password"}
    )

    assert answer.status_code == 401
    assert "That is neither your password nor your code" in answer.content.decode()
    assert not User.objects.filter(email=NELL["email"]).exists()


def test_the_six_digits_do_as_well(client_long_after_signing_in, system_administrator):
    TOTP.activate(system_administrator.user, SECRET)

    client_long_after_signing_in.post(
        reverse("access:add_member"), NELL | {"typed_once_more": six_digits(SECRET)}
    )

    assert User.objects.filter(email=NELL["email"]).exists()


@pytest.mark.parametrize("sent", NO_CREDENTIALS[1:])
def test_what_is_no_passkey_lets_nothing_through(client_long_after_signing_in, sent):
    answer = client_long_after_signing_in.post(reverse("access:add_member"), NELL | {"credential": sent})

    assert (answer.status_code, REFUSED in answer.text) == (401, True)
    assert not User.objects.filter(email=NELL["email"]).exists()


def test_a_script_is_told_in_place(client_long_after_signing_in):
    answer = client_long_after_signing_in.post(
        reverse("access:add_member"), NELL, HTTP_ACCEPT="application/json"
    )

    assert (answer.status_code, answer.json()) == (401, {"sign_in_again": True})


def test_looking_needs_no_password(client_long_after_signing_in):
    assert client_long_after_signing_in.get(reverse("access:add_member")).status_code == 200
