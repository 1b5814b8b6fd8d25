"""The lock of a shared bedside device: the sign-in stays, and nothing opens until its person is back.

Whoever else comes along signs in as themselves, which ends the locked sign-in and shows nothing of it.
"""

import hashlib
import re
from collections.abc import Callable
from typing import Any

from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.login import record_authentication
from allauth.mfa.base.forms import ReauthenticateForm
from allauth.mfa.webauthn.internal.auth import begin_authentication
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpResponse

from access import clock
from access.middleware import LAST_SEEN_AT
from access.passkeys import ProveItByPasskeyForm
from access.people import Person
from access.queries import passkeys_of
from access.requests import ArrivingRequest
from access.trail import one_act, record

LOCKED_AT = "locked at"
# Six digits, or the eight of a recovery code: no password of ours is as short.
_CODE = re.compile(r"^\d{6}(\d{2})?$")


class BedsideLock:
    """While a sign-in is locked its requests are those of nobody; ``request.locked`` says whose it is."""

    def __init__(self, get_response: Callable[[Any], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        request.locked = None
        if request.person is not None and _is_locked(request):
            request.locked, request.person = request.person, None
            request.user = AnonymousUser()
        return self.get_response(request)


def lock(request: Any) -> None:
    """Shut the sign-in of this request until its person proves to be back."""
    with one_act():
        record(request.person, "locked")
    request.session[LOCKED_AT] = clock.now().isoformat()
    # A value saved at the same moment may write the session back as it was before. This it does not touch.
    cache.set(_mark(request), True, timeout=settings.SESSION_COOKIE_AGE)


def forget_lock(request: Any) -> None:
    """After a proof, or a new sign-in in the same browser."""
    request.session.pop(LOCKED_AT, None)
    cache.delete(_mark(request))


def _is_locked(request: Any) -> bool:
    return LOCKED_AT in request.session or bool(cache.get(_mark(request)))


def _mark(request: Any) -> str:
    # The key of a session opens it, so it stands nowhere else in plain text.
    return "locked:" + hashlib.sha256((request.session.session_key or "").encode()).hexdigest()


def passkey_options(request: Any) -> dict[str, Any] | None:
    """What to ask the device for, if the person who locked has a passkey."""
    person = whose(request)
    return begin_authentication(person.user) if passkeys_of(person).exists() else None


def whose(request: Any) -> Any:
    """Whose sign-in it is, locked or not; None for nobody's."""
    return request.locked or request.person


def unlock(request: Any, *, typed: str = "", credential: str = "") -> None:
    """Open the locked sign-in again by a password, a code or a passkey of the same person.

    Raises
    ------
    ValidationError
        In words, if it is none of these or was tried too often. The sign-in stays locked.
    """
    person: Person = whose(request)
    if credential:
        how = _by_form(ProveItByPasskeyForm(user=person.user, data={"credential": credential}), "passkey")
    elif _CODE.match(typed.replace(" ", "")):
        how = _by_form(ReauthenticateForm(user=person.user, data={"code": typed.replace(" ", "")}), "code")
    else:
        how = _by_password(request, person, typed)
    with one_act():
        record(person, "unlocked", details={"by": how})
    forget_lock(request)
    request.session[LAST_SEEN_AT] = clock.now().isoformat()


def _by_form(form: Any, how: str) -> str:
    if not form.is_valid():
        raise ValidationError([words for errors in form.errors.values() for words in errors][:1])
    form.save()
    return how


def _by_password(request: Any, person: Person, typed: str) -> str:
    if not typed:
        raise ValidationError("Type your password, or the six digits of your code generator.")
    # Counts towards the limit on wrong tries, and raises once that is reached.
    if not get_adapter().reauthenticate(person.user, typed):
        raise ValidationError("That is neither your password nor your code. Try again.")
    record_authentication(request, person.user, method="password", reauthenticated=True)
    return "password"
