"""Sign-in, sign-out, failures and changes of password or second factor, written as they happen.

The sign-in library tells of these by signals only. A handler that cannot write its line raises, and the
sign-in fails with it.
"""

from typing import Any

from allauth.account.signals import password_changed, user_logged_in
from allauth.mfa.models import Authenticator
from allauth.mfa.signals import (
    authentication_failed,
    authenticator_added,
    authenticator_removed,
    authenticator_reset,
)
from django.contrib.auth.signals import user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest

from access import clock, trail
from access.locking import forget_lock
from access.middleware import CLINIC_IN_SESSION, LAST_SEEN_AT, SIGNED_IN_AT
from access.models import QueueKey, User
from access.people import Person, person_for

_FACTOR = {
    Authenticator.Type.TOTP: "code generator",
    Authenticator.Type.WEBAUTHN: "passkey",
    Authenticator.Type.RECOVERY_CODES: "recovery codes",
}


@receiver(user_logged_in)
def _signed_in(request: HttpRequest, user: User, **kwargs: Any) -> None:
    forget_lock(request)
    request.session[SIGNED_IN_AT] = request.session[LAST_SEEN_AT] = clock.now().isoformat()
    # Sessions that have run out are of use to a thief only; a sign-in is often enough to sweep them away.
    request.session.clear_expired()
    with trail.one_act():
        trail.record(_person(request, user), "signed in", user)


@receiver(user_logged_out)
def _signed_out(request: HttpRequest, user: User | None, **kwargs: Any) -> None:
    if user is None:
        return
    with trail.one_act():
        # What still waits in a browser may not outlive the sign-out of whoever typed it.
        QueueKey.objects.filter(user=user).delete()
        trail.record(_person(request, user), "signed out", user)


@receiver(user_login_failed)
def _sign_in_failed(credentials: dict[str, Any], **kwargs: Any) -> None:
    # Only whose account was tried: people type passwords into the wrong field.
    email = str(credentials.get("email", "")).strip().lower()
    user = User.objects.filter(email=email).first()
    with trail.one_act():
        trail.record(None, "sign-in failed", user)


@receiver(authentication_failed)
def _second_factor_failed(user: User, **kwargs: Any) -> None:
    with trail.one_act():
        trail.record(None, "second factor failed", user)


@receiver(authenticator_added)
@receiver(authenticator_reset)
def _factor_set_up(request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any) -> None:
    with trail.one_act():
        trail.record(
            _person(request, user),
            "second factor set up",
            user,
            details={"what": _FACTOR[authenticator.type]},
        )


@receiver(authenticator_removed)
def _factor_removed(request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any) -> None:
    with trail.one_act():
        trail.record(
            _person(request, user),
            "second factor removed",
            user,
            details={"what": _FACTOR[authenticator.type]},
        )


@receiver(password_changed)
def _password_changed(request: HttpRequest, user: User, **kwargs: Any) -> None:
    with trail.one_act():
        trail.record(_person(request, user), "password changed", user)


def _person(request: HttpRequest, user: User) -> Person:
    return person_for(user, request.session.get(CLINIC_IN_SESSION))
