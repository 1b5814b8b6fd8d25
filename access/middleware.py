"""Before a page runs: who acts, are they still at the desk, may they open it. After it failed: a trail line.

Settings list these after the sessions, authentication and allauth's account middleware, in this order::

    "access.middleware.ActingPerson",
    "access.middleware.FailureTrail",
    "access.bearer.TokenBearer",
    "access.middleware.IdleLock",
    "access.locking.BedsideLock",
    "access.middleware.SecondFactor",
    "access.middleware.RoleMatrix",
"""

import logging
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Any

from allauth.account.adapter import get_adapter
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import BadRequest, PermissionDenied, SuspiciousOperation
from django.http import (
    Http404,
    HttpResponse,
    HttpResponseNotAllowed,
    HttpResponseRedirect,
    JsonResponse,
)
from django.shortcuts import resolve_url
from django.urls import ResolverMatch
from django.utils import timezone

from access import acting, clock, trail
from access.matrix import PUBLIC, UrlRule, matrix, roles_granting, rule_for
from access.people import person_for
from access.permissions import NotHere, passes_url
from access.refusals import refused_answer, said_of_ability
from access.requests import ArrivingRequest
from access.second_factor import SECOND_FACTORS
from access.signed_out import signed_out_answer, typed_by_somebody_else

Answer = Callable[[Any], HttpResponse]

log = logging.getLogger("access")

CLINIC_IN_SESSION = "clinic acted in"
SIGNED_IN_AT = "signed in at"
LAST_SEEN_AT = "last seen at"
SECOND_FACTOR_DONE = "second factor set up"

# Pages that stay open to somebody who has not set up the second factor yet.
_ON_THE_WAY_TO_A_SECOND_FACTOR = frozenset(
    {"mfa_activate_totp", "mfa_add_webauthn", "account_logout", "account_reauthenticate"}
)

_HIGHEST_NUMBER = 2**63 - 1

# Writing the session on every click costs a write a page; within this time it would say nothing new.
_WORTH_WRITING_AGAIN = timedelta(seconds=30)


class ActingPerson:
    """Puts ``request.person`` (None if signed out) and remembers where the request came from."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        request.request_id = uuid.uuid4().hex
        acting.begin_request(acting.Origin(request_id=request.request_id, address=_address_of(request)))
        try:
            request.person = request.sign_in_ended = None
            if request.user.is_authenticated:
                request.person = person_for(request.user, request.session.get(CLINIC_IN_SESSION))
            with timezone.override(_zone_shown(request)):
                return self._kept_nowhere(request, self.get_response(request))
        finally:
            acting.end_request()

    def _kept_nowhere(self, request: ArrivingRequest, response: HttpResponse) -> HttpResponse:
        # On a shared desk neither the disk nor "Back" after a sign-out may show what somebody was shown.
        if request.person is not None and not response.has_header("Cache-Control"):
            response["Cache-Control"] = "private, no-store"
        return response


def _address_of(request: ArrivingRequest) -> str:
    try:
        return str(get_adapter(request).get_client_ip(request))
    except PermissionDenied:  # a local socket has no address
        return ""


def _zone_shown(request: ArrivingRequest) -> tzinfo:
    """Times are stored in UTC and shown as the clock on the clinic's wall shows them."""
    return request.person.clinic.zone if request.person and request.person.clinic else UTC


class FailureTrail:
    """A refused or failed act leaves a line too, written after its own transaction was rolled back."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: ArrivingRequest, exception: Exception) -> None:
        if isinstance(exception, PermissionDenied):
            record_failure(request, "refused")
        elif isinstance(exception, NotHere):
            record_failure(request, "asked for what is not here")
        elif not isinstance(exception, Http404 | BadRequest | SuspiciousOperation):
            record_failure(request, "failed")


def record_failure(request: ArrivingRequest, action: str) -> None:
    """Write ``action`` about this request to the trail. Of the address only numbers go in."""
    match = request.resolver_match
    details = {
        "page": match.view_name if match else "",
        "method": request.method,
        "numbers": {name: str(value) for name, value in match.kwargs.items()} if match else {},
    }
    try:
        with trail.one_act():
            trail.record(request.person, action, details=details)
    except Exception:
        # The act itself has already failed and said so; losing this line too must at least be heard.
        log.exception("A failed act could not be written to the trail: request %s", request.request_id)


class IdleLock:
    """Ends a sign-in that nobody has used for a while, or that is simply too old."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        request.idle_minutes = settings.IDLE_MINUTES
        if request.person is not None and self._expired(request):
            with trail.one_act():
                trail.record(request.person, "signed out, unused too long")
            # Not a sign-out: values waiting in the browser keep their key for when the person returns.
            request.session.flush()
            request.user = AnonymousUser()
            request.sign_in_ended, request.person = request.person, None
        return self.get_response(request)

    def process_view(
        self, request: ArrivingRequest, view: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> None:
        rule = rule_for(request.resolver_match)
        if request.person is None or (rule and (rule.quiet or rule.by_token)):
            return
        seen = _moment(request, LAST_SEEN_AT)
        if seen is None or clock.now() - seen > _WORTH_WRITING_AGAIN:
            request.session[LAST_SEEN_AT] = clock.now().isoformat()
            UserSession.objects.filter(session_key=request.session.session_key).update(
                last_seen_at=clock.now()
            )

    def _expired(self, request: ArrivingRequest) -> bool:
        now = clock.now()
        seen, began = _moment(request, LAST_SEEN_AT), _moment(request, SIGNED_IN_AT)
        idle = timedelta(minutes=settings.IDLE_MINUTES)
        longest = timedelta(hours=settings.SIGN_IN_HOURS)
        return (seen is not None and now - seen > idle) or (began is not None and now - began > longest)


def _moment(request: ArrivingRequest, name: str) -> datetime | None:
    stored = request.session.get(name)
    return datetime.fromisoformat(stored) if stored else None


class SecondFactor:
    """Sends whoever has no second factor yet to the page that sets it up, before any other page opens."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: ArrivingRequest, view: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if request.person is None or not settings.SECOND_FACTOR_REQUIRED or _asks_for_no_sign_in(request):
            return None
        if request.session.get(SECOND_FACTOR_DONE):
            return None
        if Authenticator.objects.filter(user=request.user, type__in=SECOND_FACTORS).exists():
            # Safe to remember: whatever takes the second factor away ends this person's sign-ins.
            request.session[SECOND_FACTOR_DONE] = True
            return None
        if _name_of(request.resolver_match) in _ON_THE_WAY_TO_A_SECOND_FACTOR:
            return None
        return HttpResponseRedirect(resolve_url("mfa_activate_totp"))


class RoleMatrix:
    """Opens a page only if the matrix says so; a page it does not know stays shut."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: ArrivingRequest, view: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        rule = rule_for(request.resolver_match)
        if rule is None:
            record_failure(request, "refused")
            raise PermissionDenied("a page without an entry in the role matrix")
        if request.method == "HEAD":
            # A view knows GET and POST only, and must not take this for a POST. The server drops the body.
            request.method = "GET"
        ability = rule.abilities.get(request.method or "")
        if ability is None:
            return _not_allowed(rule)
        if ability != PUBLIC and request.person is None:
            return signed_out_answer(request, request.sign_in_ended)
        if not passes_url(request.person, ability):
            record_failure(request, "refused")
            if rule.by_token:
                return JsonResponse(said_of_ability(request.person, ability), status=403)
            raise PermissionDenied(f"needs the ability “{ability}”")
        if (
            request.person is not None
            and not rule.by_token
            and typed_by_somebody_else(request, request.person)
        ):
            record_failure(request, "refused")
            raise PermissionDenied("typed under the sign-in of another person")
        if any(isinstance(value, int) and value > _HIGHEST_NUMBER for value in kwargs.values()):
            raise Http404("no row has such a number, and not every database can be asked for it")
        self._note_role(request, ability)
        return None

    def _note_role(self, request: ArrivingRequest, ability: str) -> None:
        if request.person is None or ability not in matrix().abilities:
            return
        role = next(role for role in roles_granting(ability) if role in request.person.roles)
        acting.note_role(request.person.user.pk, role)


def _not_allowed(rule: UrlRule) -> HttpResponse:
    methods = sorted(rule.abilities)
    if not rule.by_token:
        return HttpResponseNotAllowed(methods)
    return refused_answer(
        405,
        "wrong_method",
        "This address does not know that method.",
        f"Use {' or '.join(methods)}.",
        {"Allow": ", ".join(methods)},
    )


def _asks_for_no_sign_in(request: ArrivingRequest) -> bool:
    rule = rule_for(request.resolver_match)
    return rule is not None and (rule.by_token or rule.abilities.get(request.method or "") == PUBLIC)


def _name_of(match: ResolverMatch | None) -> str:
    return match.view_name if match else ""
