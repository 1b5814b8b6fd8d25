"""Signing in, staying signed in, and signing out."""

import base64
import hashlib
import hmac
import struct
import time
from datetime import UTC, datetime, timedelta

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from django.contrib.sessions.models import Session
from django.core.exceptions import ImproperlyConfigured
from django.db import connection
from django.test import Client
from django.urls import reverse

from access import checks, clock, services
from access.models import QueueKey, TrailRow
from access.permissions import NotHere

PASSWORD = "a walk along the quiet fen"
SECRET = "JBSWY3DPEHPK3PXP" * 2
TO_A_SCRIPT = {"HTTP_ACCEPT": "application/json"}
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def six_digits(secret: str, at: float | None = None) -> str:
    """RFC 6238 with SHA-1, 30 s and six digits, written out so that the library is not checked by itself."""
    counter = struct.pack(">Q", int((time.time() if at is None else at) // 30))
    mark = hmac.new(base64.b32decode(secret), counter, hashlib.sha1).digest()
    start = mark[-1] & 15
    return str((int.from_bytes(mark[start : start + 4], "big") & 0x7FFFFFFF) % 10**6).zfill(6)


def test_the_six_digits_are_those_of_the_standard():
    # RFC 6238 appendix B, SHA-1: at 59 s the eight digits are 94287082; six digits are their end.
    assert six_digits(base64.b32encode(b"12345678901234567890").decode(), at=59) == "287082"


@pytest.fixture
def with_password(measurer):
    measurer.user.set_password(PASSWORD)
    measurer.user.save()
    return measurer


@pytest.fixture
def outside_the_demo(settings):
    settings.SECOND_FACTOR_REQUIRED = True


def sign_in(client, person, password=PASSWORD):
    typed = {"login": person.user.email, "password": password}
    return client.post(reverse("account_login"), typed)


def actions():
    return list(TrailRow.objects.order_by("pk").values_list("action", flat=True))


def test_the_sign_in_page_says_what_the_service_is_for_and_which_version_it_is(client, db, settings):
    page = client.get(reverse("account_login")).content.decode()

    assert "For evaluation, training and research with invented or consented data" in page
    assert "It makes no diagnosis" in page
    assert f"Version {settings.VERSION}" in page


def test_the_right_password_lets_in_and_leaves_a_line(client, with_password):
    answer = sign_in(client, with_password)

    assert answer.headers["Location"] == "/"
    row = TrailRow.objects.get(action="signed in")
    assert (row.user, row.clinic) == (with_password.user, with_password.clinic)


def test_the_email_may_be_typed_in_capitals(client, with_password):
    typed = {"login": with_password.user.email.upper(), "password": PASSWORD}

    assert client.post(reverse("account_login"), typed).status_code == 302


def test_a_wrong_password_is_said_in_words_and_keeps_the_email(client, with_password):
    page = sign_in(client, with_password, password="not the password").content.decode()

    assert "do not belong together" in page
    assert f'value="{with_password.user.email}"' in page


def test_a_failed_sign_in_leaves_a_line_without_anything_that_was_typed(client, with_password):
    sign_in(client, with_password, password="my secret typed amiss")

    row = TrailRow.objects.get()
    assert (row.action, row.clinic, row.user) == ("sign-in failed", None, None)
    assert row.subject_id == str(with_password.user.pk)
    assert row.details == {}


def test_an_unknown_email_is_answered_like_a_wrong_password(client, db):
    page = client.post(reverse("account_login"), {"login": "nobody@fenmarsh.example", "password": "x" * 12})

    assert "do not belong together" in page.content.decode()
    assert TrailRow.objects.get().subject_id == ""


def test_after_five_wrong_tries_even_the_right_password_waits(client, with_password):
    for _ in range(5):
        sign_in(client, with_password, password="not the password")

    page = sign_in(client, with_password).content.decode()

    assert "Too many wrong tries" in page
    assert "signed in" not in actions()


def test_a_disabled_account_cannot_sign_in(client, with_password, system_administrator):
    services.disable_member(user=with_password.user, by=system_administrator)

    sign_in(client, with_password)

    assert "_auth_user_id" not in client.session


def test_without_a_second_factor_every_page_leads_to_its_setting_up(client, with_password, outside_the_demo):
    sign_in(client, with_password)

    assert client.get("/people/account/").headers["Location"] == reverse("mfa_activate_totp")


def test_the_second_factor_is_set_up_with_a_right_code(client, with_password, outside_the_demo):
    sign_in(client, with_password)
    page = client.get(reverse("mfa_activate_totp"))
    secret = page.context["form"].secret

    client.post(reverse("mfa_activate_totp"), {"code": six_digits(secret)})

    assert set(Authenticator.objects.values_list("type", flat=True)) == {"totp", "recovery_codes"}


def test_a_password_alone_does_not_let_in(client, with_password, outside_the_demo):
    TOTP.activate(with_password.user, SECRET)

    answer = sign_in(client, with_password)

    assert answer.headers["Location"] == reverse("mfa_authenticate")
    assert "_auth_user_id" not in client.session


def test_password_and_code_let_in(client, with_password, outside_the_demo):
    TOTP.activate(with_password.user, SECRET)
    sign_in(client, with_password)

    answer = client.post(reverse("mfa_authenticate"), {"code": six_digits(SECRET)})

    assert answer.headers["Location"] == "/"
    assert actions() == ["signed in"]


def test_a_wrong_code_does_not_let_in_and_leaves_a_line(client, with_password, outside_the_demo):
    TOTP.activate(with_password.user, SECRET)
    sign_in(client, with_password)
    wrong = str((int(six_digits(SECRET)) + 1) % 10**6).zfill(6)

    page = client.post(reverse("mfa_authenticate"), {"code": wrong}).content.decode()

    assert "This code is not right" in page
    assert actions() == ["second factor failed"]


def test_the_secret_of_a_second_factor_is_not_stored_in_the_clear(with_password):
    TOTP.activate(with_password.user, SECRET)

    assert SECRET not in str(Authenticator.objects.get().data)


def test_a_second_factor_outlives_a_change_of_the_secret_key(with_password, settings):
    factor = TOTP.activate(with_password.user, SECRET)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another long random text, made after the first one was seen by somebody"

    assert factor.validate_code(six_digits(SECRET))


def test_a_recovery_code_lets_in_once(client, with_password, outside_the_demo):
    TOTP.activate(with_password.user, SECRET)
    code = RecoveryCodes.activate(with_password.user).get_unused_codes()[0]
    sign_in(client, with_password)
    client.post(reverse("mfa_authenticate"), {"code": code})
    client.post(reverse("account_logout"))
    sign_in(client, with_password)

    client.post(reverse("mfa_authenticate"), {"code": code})

    assert "_auth_user_id" not in client.session


def test_nobody_takes_off_their_own_second_factor(client_as, measurer):
    assert client_as(measurer).post(reverse("mfa_deactivate_totp")).status_code == 403


def test_the_demo_needs_no_second_factor(client, with_password):
    sign_in(client, with_password)

    assert client.get(reverse("access:queue_key")).status_code == 200


def test_the_service_does_not_start_without_a_second_factor_outside_the_demo(settings):
    settings.DEMO, settings.SECOND_FACTOR_REQUIRED = False, False

    with pytest.raises(ImproperlyConfigured, match="in the demo only"):
        checks.refuse_to_start_without_second_factor()


def test_nobody_makes_an_account_of_their_own(client, db):
    typed = {"email": "me@fenmarsh.example", "password1": PASSWORD, "password2": PASSWORD}

    assert client.post(reverse("account_signup"), typed).headers["Location"].startswith("/accounts/login/")


def test_an_unused_sign_in_ends_and_leaves_a_line(measurer, client_as, settings):
    with clock.at(NOW):
        client = client_as(measurer)

    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES, seconds=1)):
        answer = client.get(reverse("access:queue_key"))

    assert answer.headers["Location"] == f"{reverse('account_login')}?next={reverse('access:queue_key')}"
    assert actions() == ["signed out, unused too long"]


def test_a_script_is_told_in_place_that_the_sign_in_has_ended(measurer, client_as, settings):
    with clock.at(NOW):
        client = client_as(measurer)

    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES, seconds=1)):
        answer = client.get(reverse("access:queue_key"), **TO_A_SCRIPT)

    assert answer.status_code == 401
    assert answer.json()["signed_out"] is True


def test_htmx_is_told_in_place_too(db, client):
    answer = client.get(reverse("access:queue_key"), HTTP_HX_REQUEST="true")

    assert (answer.status_code, answer.json()["signed_out"]) == (401, True)


def test_a_sign_in_in_use_goes_on(measurer, client_as, settings):
    with clock.at(NOW):
        client = client_as(measurer)
    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES - 1)):
        client.get(reverse("access:queue_key"))

    with clock.at(NOW + timedelta(minutes=2 * settings.IDLE_MINUTES - 2)):
        assert client.get(reverse("access:queue_key")).status_code == 200


def test_a_page_that_polls_does_not_keep_a_sign_in_alive(measurer, client_as, settings):
    with clock.at(NOW):
        client = client_as(measurer)
    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES - 1)):
        client.get(reverse("jobs:state", args=[1]))

    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES + 1)):
        assert client.get(reverse("access:queue_key")).status_code == 302


def test_the_longest_sign_in_ends_even_in_use(measurer, client_as, settings):
    with clock.at(NOW):
        client = client_as(measurer)
    session = client.session
    session["last seen at"] = (NOW + timedelta(hours=settings.SIGN_IN_HOURS)).isoformat()
    session.save()

    with clock.at(NOW + timedelta(hours=settings.SIGN_IN_HOURS, seconds=1)):
        assert client.get(reverse("access:queue_key")).status_code == 302


def test_signing_out_leaves_a_line_and_deletes_the_queue_key(measurer, client_as):
    client = client_as(measurer)
    client.get(reverse("access:queue_key"))

    client.post(reverse("account_logout"))

    assert actions() == ["signed out"]
    assert not QueueKey.objects.exists()


def test_a_role_change_ends_the_sign_in_at_once(client, with_password, system_administrator, clinic):
    sign_in(client, with_password)

    services.grant_role(user=with_password.user, clinic=clinic, role="educator", by=system_administrator)

    assert client.get(reverse("access:queue_key")).status_code == 302


def test_disabling_an_account_ends_its_sign_in_at_once(client, with_password, system_administrator):
    sign_in(client, with_password)

    services.disable_member(user=with_password.user, by=system_administrator)

    assert client.get(reverse("access:queue_key")).status_code == 302


@pytest.fixture
def elsewhere(with_password):
    """A second browser in which the same person is signed in."""
    browser = Client()
    sign_in(browser, with_password)
    return browser


def test_all_other_sign_ins_can_be_ended_by_oneself(client, with_password, elsewhere):
    sign_in(client, with_password)

    client.post(reverse("access:sign_ins"), {"sign_in": "all"})

    assert elsewhere.get(reverse("access:queue_key")).status_code == 302
    assert client.get(reverse("access:queue_key")).status_code == 200
    assert actions()[-1] == "own sign-ins ended"


def test_one_sign_in_can_be_ended_by_oneself(client, with_password, elsewhere):
    sign_in(client, with_password)
    [other] = client.get(reverse("access:sign_ins")).context["others"]

    client.post(reverse("access:sign_ins"), {"sign_in": other.pk})

    assert elsewhere.get(reverse("access:queue_key")).status_code == 302


def test_the_sign_in_of_another_person_cannot_be_ended(client, with_password, elsewhere, reporter):
    theirs = [one for one, _ in elsewhere.get(reverse("access:sign_ins")).context["rows"]]

    with pytest.raises(NotHere):
        services.end_own_sign_ins(ending=theirs, by=reporter)


def test_if_the_line_of_a_sign_in_cannot_be_written_nobody_is_signed_in(client, with_password):

    client.raise_request_exception = False
    with connection.cursor() as cursor:
        cursor.execute("ALTER TABLE access_trailhead RENAME TO access_trailhead_away")

    answer = sign_in(client, with_password)

    assert answer.status_code == 500
    assert "_auth_user_id" not in client.session


def test_after_signing_in_one_is_back_where_one_was(client, with_password):
    typed = {"login": with_password.user.email, "password": PASSWORD, "next": "/people/account/"}

    assert client.post(reverse("account_login"), typed).headers["Location"] == "/people/account/"


CHOICE = {"clinic": "1", "note": "typed for a long time"}


@pytest.fixture
def form_sent_too_late(measurer, client_as, settings):
    """The page that answers a form sent after its sign-in had ended."""
    with clock.at(NOW):
        client = client_as(measurer)
    with clock.at(NOW + timedelta(minutes=settings.IDLE_MINUTES, seconds=1)):
        return client.post(reverse("access:switch_clinic"), CHOICE)


def carried(page):
    return dict(page.context["typed"])


def test_a_form_sent_too_late_comes_back_with_everything_typed(form_sent_too_late):
    assert form_sent_too_late.status_code == 401
    assert CHOICE.items() <= carried(form_sent_too_late).items()


def test_it_can_be_sent_again_under_ones_own_sign_in(form_sent_too_late, measurer, client_as, clinic):
    again = carried(form_sent_too_late) | {"clinic": str(clinic.pk)}

    assert client_as(measurer).post(reverse("access:switch_clinic"), again).status_code == 302


def test_it_cannot_be_sent_under_the_sign_in_of_another(form_sent_too_late, reporter, client_as, clinic):
    again = carried(form_sent_too_late) | {"clinic": str(clinic.pk)}

    assert client_as(reporter).post(reverse("access:switch_clinic"), again).status_code == 403


def test_whose_form_it_is_cannot_be_changed(form_sent_too_late, reporter, client_as, clinic):
    forged = carried(form_sent_too_late) | {"clinic": str(clinic.pk), "typed_by": str(reporter.user.pk)}

    assert client_as(reporter).post(reverse("access:switch_clinic"), forged).status_code == 403


def test_somebody_without_a_role_lands_on_their_account(client, with_password, system_administrator):
    services.end_role(membership=with_password.user.memberships.get(), by=system_administrator)

    assert sign_in(client, with_password).headers["Location"] == reverse("access:account")


def test_a_changed_password_ends_the_other_sign_ins_and_leaves_a_line(client, with_password):
    elsewhere = Client()
    sign_in(elsewhere, with_password)
    sign_in(client, with_password)
    new = "another walk along the fen"

    client.post(
        reverse("account_change_password"), {"oldpassword": PASSWORD, "password1": new, "password2": new}
    )

    assert client.get(reverse("access:queue_key")).status_code == 200
    assert elsewhere.get(reverse("access:queue_key")).status_code == 302
    assert actions()[-1] == "password changed"


def test_a_short_new_password_is_refused_in_words(client, with_password):
    sign_in(client, with_password)

    page = client.post(
        reverse("account_change_password"),
        {"oldpassword": PASSWORD, "password1": "elevenchars", "password2": "elevenchars"},
    )

    assert "This password is too short" in page.content.decode()


def test_a_change_to_ones_own_roles_ends_ones_own_sign_in_too(client, system_administrator, clinic):
    system_administrator.user.set_password(PASSWORD)
    system_administrator.user.save()
    sign_in(client, system_administrator)

    answer = client.post(
        reverse("access:grant_role", args=[system_administrator.user.pk]),
        {"role": "educator", "clinic": clinic.pk},
    )

    assert answer.headers["Location"] == reverse("account_login")
    assert client.get(reverse("access:queue_key")).status_code == 302


def test_nothing_shown_to_somebody_is_kept_by_the_browser(measurer, client_as):
    assert "no-store" in client_as(measurer).get(reverse("access:account")).headers["Cache-Control"]


def test_enabling_an_account_again_does_not_bring_back_its_sign_ins(
    client, with_password, system_administrator
):
    sign_in(client, with_password)
    services.disable_member(user=with_password.user, by=system_administrator)

    services.enable_member(user=with_password.user, by=system_administrator)

    assert client.get(reverse("access:queue_key")).status_code == 302


def test_a_sign_in_sweeps_away_the_sessions_that_have_run_out(client, with_password):
    Session.objects.create(session_key="old", expire_date=clock.now() - timedelta(days=1))
    Session.objects.create(session_key="young", expire_date=clock.now() + timedelta(hours=1))

    sign_in(client, with_password)

    assert not Session.objects.filter(session_key="old").exists()
    assert Session.objects.filter(session_key="young").exists()


def test_a_sign_in_never_goes_on_under_the_session_of_before(client, with_password):
    session = client.session
    session["planted"] = "by somebody else"
    session.save()
    planted = session.session_key
    client.cookies["sessionid"] = planted

    sign_in(client, with_password)

    assert client.session.session_key != planted
    assert not Session.objects.filter(session_key=planted).exists()
