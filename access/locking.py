"""The lock of a shared bedside device: the sign-in stays, and nothing opens until its person is back.

Whoever else comes along signs in as themselves, which ends the locked sign-in and shows nothing of it.
"""

import hashlib
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.core.cache import cache
from django.http import HttpResponse

from access import clock
from access.middleware import LAST_SEEN_AT
from access.people import Person
from access.proving import prove
from access.requests import ArrivingRequest
from access.trail import one_act, record

LOCKED_AT = "locked at"


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
    how = prove(request, person, typed=typed, credential=credential)
    with one_act():
        record(person, "unlocked", details={"by": how})
    forget_lock(request)
    request.session[LAST_SEEN_AT] = clock.now().isoformat()
