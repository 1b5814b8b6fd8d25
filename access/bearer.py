"""A program's sign-in: each request brings its token along, and nothing else counts there."""

from collections.abc import Callable
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.core.cache import cache
from django.http import HttpResponse

from access import acting, tokens, trail
from access.matrix import rule_for
from access.people import person_for
from access.refusals import refused_answer
from access.requests import ArrivingRequest

MOST_FAILURES = 10
WITHIN_SECONDS = 300

_WHAT_IS_WRONG = {
    "missing": (
        "token_missing",
        "No token came with this request.",
        "Send the header “Authorization: Bearer” and the token you were given.",
    ),
    "unknown": (
        "token_unknown",
        "This token is not known here.",
        "Check that it was copied whole. It was shown once; if it is lost, ask for another.",
    ),
    "expired": (
        "token_expired",
        "This token's time is over.",
        "Ask whoever gave it to you for another. Keep what could not be sent, and send it then.",
    ),
    "nobody_behind": (
        "token_without_rights",
        "The person this token acts for holds no role in its clinic any more.",
        "Ask somebody who works in that clinic to make another. Keep what could not be sent until then.",
    ),
    "revoked": (
        "token_revoked",
        "This token has been revoked.",
        "Ask whoever gave it to you for another. Keep what could not be sent, and send it then.",
    ),
}


class TokenBearer:
    """Where the matrix says ``by_token``, puts the token's account in place of whoever the browser's cookie
    names. Elsewhere a token means nothing.

    So no page opens with a token, no address for programs opens with a sign-in (and needs no proof against
    forged forms), and the role matrix is asked in both cases.
    """

    def __init__(self, get_response: Callable[[Any], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: ArrivingRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: ArrivingRequest, view: Any, args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        rule = rule_for(request.resolver_match)
        if rule is None or not rule.by_token:
            return None
        request.person, request.user = None, AnonymousUser()
        kind, _, text = request.headers.get("Authorization", "").partition(" ")
        if kind.lower() != "bearer" or not text.strip():
            return _refused(request, tokens.Shown(None, "missing"))
        shown = tokens.whose(text.strip())
        if shown.person is None:
            return _refused(request, shown)
        request.person, request.user = shown.person, shown.person.user
        return None


def _refused(request: ArrivingRequest, shown: tokens.Shown) -> HttpResponse:
    # A device that keeps knocking must not fill the trail; a token in force is looked up before, and is never
    # made to wait for the failures of a neighbour behind the same address.
    who = f"account-{shown.account.pk}" if shown.account else f"address-{acting.origin().address}"
    failures = _count(f"token-refused-{who}")
    if failures > MOST_FAILURES:
        return refused_answer(
            429,
            "too_many_failures",
            "Too many requests without a token that is in force.",
            f"Wait {WITHIN_SECONDS // 60} minutes, and check the token.",
            {"Retry-After": str(WITHIN_SECONDS)},
        )
    with trail.one_act():
        by = person_for(shown.account) if shown.account else None
        trail.record(by, "token refused", shown.account, details={"what": shown.fault})
    return refused_answer(401, *_WHAT_IS_WRONG[shown.fault], {"WWW-Authenticate": "Bearer"})


def _count(name: str) -> int:
    cache.add(name, 0, WITHIN_SECONDS)
    try:
        return cache.incr(name)
    except ValueError:  # its time ran out in between
        return 1
