"""Passkeys without a browser: what is refused, what stays, what the trail says. With one: tests/browser."""

import json

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP
from django.core.exceptions import ValidationError
from django.urls import reverse

from access import services
from access.models import TrailRow
from access.permissions import NotHere

pytestmark = pytest.mark.django_db

NO_CREDENTIALS = ["", "{", "[]", "1", "null", "{}", '{"response": 1}', '{"response": {"userHandle": "MQ"}}']


def passkey(person, name="my key"):
    return Authenticator.objects.create(
        user=person.user, type=Authenticator.Type.WEBAUTHN, data={"name": name, "credential": {}}
    )


@pytest.mark.parametrize("sent", NO_CREDENTIALS)
def test_what_is_no_passkey_signs_nobody_in_and_breaks_nothing(client, measurer, sent):
    client.get(reverse("mfa_login_webauthn"), headers={"accept": "application/json"})

    answer = client.post(reverse("mfa_login_webauthn"), {"credential": sent})

    assert (answer.status_code, answer.headers["Location"]) == (302, reverse("account_login"))
    assert "_auth_user_id" not in client.session


def test_a_refused_passkey_leaves_a_line(client, measurer):
    client.post(reverse("mfa_login_webauthn"), {"credential": '{"response": 1}'})

    assert TrailRow.objects.get().action == "passkey refused"


@pytest.mark.parametrize("sent", NO_CREDENTIALS)
def test_what_is_no_passkey_is_not_kept(client_as, measurer, sent):
    client = client_as(measurer)
    client.get(reverse("mfa_add_webauthn"))

    answer = client.post(reverse("mfa_add_webauthn"), {"name": "mine", "credential": sent})

    assert answer.status_code in (200, 422)
    assert not Authenticator.objects.exists()


def test_the_device_is_asked_to_make_sure_who_is_there(client, db):
    asked = client.get(reverse("mfa_login_webauthn"), headers={"accept": "application/json"}).json()

    assert asked["request_options"]["publicKey"]["userVerification"] == "required"


def test_a_passkey_is_a_second_factor_as_good_as_a_code(client_as, measurer, settings):
    settings.SECOND_FACTOR_REQUIRED = True
    client = client_as(measurer)
    session = client.session
    del session["second factor set up"]
    session.save()
    assert client.get("/people/account/").status_code == 302

    passkey(measurer)

    assert client.get("/people/account/").status_code == 200


def test_one_of_two_factors_may_be_removed_and_leaves_a_line(measurer):
    TOTP.activate(measurer.user, "JBSWY3DPEHPK3PXP")
    first = passkey(measurer)

    services.remove_passkey(number=first.pk, by=measurer)

    row = TrailRow.objects.latest("pk")
    assert (row.action, json.loads(row.details_json)) == ("second factor removed", {"what": "passkey"})


def test_the_last_second_factor_stays(measurer):
    only = passkey(measurer)

    with pytest.raises(ValidationError, match="only second factor"):
        services.remove_passkey(number=only.pk, by=measurer)

    assert Authenticator.objects.filter(pk=only.pk).exists()


def test_neither_anothers_passkey_nor_a_code_generator_is_removed_so(measurer, reporter):
    others, code = passkey(reporter), TOTP.activate(measurer.user, "JBSWY3DPEHPK3PXP").instance

    for number in (others.pk, code.pk):
        with pytest.raises(NotHere):
            services.remove_passkey(number=number, by=measurer)
