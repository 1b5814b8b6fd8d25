"""A passkey made, used as the second factor and to sign in by, with a virtual device in a real browser."""

from datetime import timedelta

import pytest
from django.contrib.sessions.backends.db import SessionStore
from playwright.sync_api import expect

from access import clock
from access.models import AccessToken, TrailRow

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "a walk along the quiet fen"


@pytest.fixture
def newcomer(measurer, settings):
    """Has a password and no second factor yet, which is required."""
    settings.SECOND_FACTOR_REQUIRED = True
    measurer.user.set_password(PASSWORD)
    measurer.user.save()
    return measurer


def with_device(page, *, unlocked=True):
    """A device that keeps passkeys, and whose owner is (not) the one who unlocks it."""
    session = page.context.new_cdp_session(page)
    session.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": unlocked,
        "automaticPresenceSimulation": True,
    }
    made = session.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    return session, made["authenticatorId"]


def sign_in_by_password(page, person):
    page.goto("/accounts/login/")
    page.get_by_label("Email").fill(person.user.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


def sign_out(page):
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Sign in")


def prove_again_in(page):
    """Let the proofs of this browser's sign-in be too old for a step under one's name."""
    key = next(one["value"] for one in page.context.cookies() if one["name"] == "sessionid")
    session = SessionStore(key)
    for proof in session["account_authentication_methods"]:
        proof["at"] = (clock.now() - timedelta(minutes=10)).timestamp()
    session.save()


def test_a_passkey_is_made_and_signs_in_alone_or_after_the_password(page_as, newcomer, accessible):
    page = page_as(None, width=390)
    device, number = with_device(page)
    sign_in_by_password(page, newcomer)
    page.get_by_role("link", name="Make a passkey instead").click()
    assert accessible(page) == []
    page.get_by_label("Name of this device").fill("the ward's key")
    page.get_by_role("button", name="Make a passkey").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("ecovery codes")

    page.goto("/accounts/2fa/")
    expect(page.get_by_role("row", name="the ward's key")).to_be_visible()
    assert accessible(page) == []
    sign_out(page)

    page.goto("/accounts/login/?next=/people/account/")
    assert accessible(page) == []
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Mina Measurer")
    sign_out(page)

    sign_in_by_password(page, newcomer)
    expect(page.get_by_role("heading", name="Or your passkey")).to_be_visible()
    assert accessible(page) == []
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Today")
    assert TrailRow.objects.filter(action="signed in").count() == 3

    # Ten minutes later a step under one's name asks for a proof: the passkey is one, nothing typed is lost.
    prove_again_in(page)
    page.goto("/people/programs/add/")
    page.get_by_label("Name", exact=True).fill("Ward list")
    page.get_by_role("checkbox").first.check()
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Is it still you?")
    assert accessible(page) == []
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Ward list")
    assert AccessToken.objects.get().user.full_name == "Ward list"

    page.goto("/people/account/")
    sign_out(page)
    device.send("WebAuthn.setUserVerified", {"authenticatorId": number, "isUserVerified": False})
    page.goto("/accounts/login/")
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("alert").filter(has_text="The device gave no passkey")).to_be_visible()
