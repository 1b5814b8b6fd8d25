"""A locked sign-in opens nothing, keeps everything, and is opened again by its person alone."""

from datetime import timedelta

import pytest
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from django.urls import reverse

from access import clock
from access.models import QueueKey, TrailRow
from tests.access.test_sign_in import PASSWORD, SECRET, six_digits

pytestmark = pytest.mark.django_db

A_PAGE = "/people/account/"
TO_A_SCRIPT = {"accept": "application/json"}


@pytest.fixture
def locked(measurer, client_as):
    """The browser of the measurer, who has just locked it."""
    measurer.user.set_password(PASSWORD)
    measurer.user.save()
    client = client_as(measurer)
    client.get(reverse("access:queue_key"))
    client.post(reverse("access:lock"), {"next": A_PAGE})
    return client


def unlock(client, typed, **more):
    return client.post(reverse("access:unlock"), {"typed": typed, "next": A_PAGE}, **more)


def actions():
    return list(TrailRow.objects.order_by("pk").values_list("action", flat=True))


def test_a_locked_sign_in_opens_no_page_and_leads_to_its_unlocking(locked):
    answer = locked.get(A_PAGE)

    assert answer.headers["Location"] == f"{reverse('access:unlock')}?next={A_PAGE}"
    assert actions()[-1] == "locked"


def test_a_value_saved_at_the_same_moment_does_not_undo_the_lock(measurer, client_as):
    client = client_as(measurer)
    as_it_was = client.session
    assert "locked at" not in as_it_was  # which reads it
    client.post(reverse("access:lock"))

    as_it_was["last seen at"] = clock.now().isoformat()
    as_it_was.save()

    assert client.get(A_PAGE).status_code == 302


def test_a_script_is_told_in_place_and_what_waits_in_the_browser_keeps_its_key(locked, measurer):
    answer = locked.get(reverse("access:still_here"), headers=TO_A_SCRIPT)

    assert (answer.status_code, answer.json()["sign_in"]) == (401, reverse("access:unlock"))
    assert QueueKey.objects.filter(user=measurer.user).exists()


def test_a_form_sent_while_locked_comes_back_with_what_was_typed(locked, measurer):
    answer = locked.post(reverse("access:switch_clinic"), {"clinic": "7"})

    assert answer.status_code == 401
    assert 'name="clinic" value="7"' in answer.text
    assert reverse("access:unlock") in answer.text


def test_the_page_of_a_locked_sign_in_says_whose_it_is_and_is_kept_nowhere(locked):
    page = locked.get(reverse("access:unlock"))

    assert "Locked by Mina Measurer" in page.text
    assert "no-store" in page.headers["Cache-Control"]


def test_the_password_of_the_same_person_opens_it_where_it_was(locked):
    answer = unlock(locked, PASSWORD)

    assert answer.headers["Location"] == A_PAGE
    assert locked.get(A_PAGE).status_code == 200
    assert actions()[-1] == "unlocked"


def test_the_six_digits_or_a_recovery_code_open_it_too(locked, measurer, settings):
    settings.MFA_TOTP_TOLERANCE = 1  # the half minute may end between making the digits and typing them
    TOTP.activate(measurer.user, SECRET)
    code = RecoveryCodes.activate(measurer.user).get_unused_codes()[0]

    assert unlock(locked, six_digits(SECRET)).status_code == 302
    locked.post(reverse("access:lock"))
    assert unlock(locked, code).status_code == 302


@pytest.mark.parametrize("typed", ["", "not the password", "000000", "a" * 201])
def test_anything_else_leaves_it_locked_and_says_so(locked, typed):
    page = unlock(locked, typed)

    assert page.status_code == 422
    assert 'class="errorlist"' in page.text
    assert locked.get(A_PAGE).status_code == 302


def test_a_script_hears_in_words_what_was_wrong(locked):
    answer = unlock(locked, "not the password", headers=TO_A_SCRIPT)

    assert (answer.status_code, answer.json()["passkey"]) == (422, None)
    assert "neither your password nor your code" in answer.json()["problem"]


def test_five_wrong_tries_make_even_the_right_password_wait(locked):
    for _ in range(5):
        unlock(locked, "not the password")

    assert "Too many wrong tries" in unlock(locked, PASSWORD).text


def test_another_person_signs_in_and_finds_nothing_of_it(locked, reporter):
    reporter.user.set_password(PASSWORD)
    reporter.user.save()

    locked.post(reverse("account_login"), {"login": reporter.user.email, "password": PASSWORD})

    assert "Rufus Reporter" in locked.get(A_PAGE).text
    assert "Mina" not in locked.get(reverse("access:unlock")).text


def test_the_same_person_may_sign_in_anew_instead(locked, measurer):
    locked.post(reverse("account_login"), {"login": measurer.user.email, "password": PASSWORD})

    assert locked.get(A_PAGE).status_code == 200


def test_a_lock_does_not_outlive_the_idle_time(locked, settings):
    with clock.at(clock.now() + timedelta(minutes=settings.IDLE_MINUTES, seconds=1)):
        answer = unlock(locked, PASSWORD)

    assert answer.headers["Location"].startswith(reverse("account_login"))


def test_without_the_lock_a_proof_is_asked_for_all_the_same(measurer, client_as):
    answer = unlock(client_as(measurer), "not the password", headers=TO_A_SCRIPT)

    assert answer.status_code == 422


def test_nobody_signed_in_has_nothing_to_unlock(client, db):
    answer = unlock(client, PASSWORD, headers=TO_A_SCRIPT)

    assert answer.status_code == 401
