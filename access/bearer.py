"""A program's sign-in: each request brings its token along, and nothing else counts there."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.core.cache import cache
from django.http import HttpResponse

from access import acting, clock, tokens, trail
from access.matrix import rule_for
from access.people import Person, person_for
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
        if (seconds := _asks_too_often(shown.person)) is not None:
            return refused_answer(
                429,
                "too_many_requests",
                f"This token asked more than {settings.REQUESTS_A_MINUTE} times within a minute.",
                f"Go on in {seconds} seconds, and ask more slowly: Retry-After says how long to wait.",
                {"Retry-After": str(seconds)},
            )
        request.person, request.user = shown.person, shown.person.user
        return None


def _asks_too_often(person: Person) -> int | None:
    """How many seconds a program or device must wait; None while it may ask. Minutes are the clock's.

    Counted before anything is looked up for it, so that what is refused for another reason counts too.
    """
    left = 60 - int(clock.now().timestamp()) % 60
    asked = _count(f"token-asked-{person.user.pk}", left)
    if asked == settings.REQUESTS_A_MINUTE + 1:  # one line a minute, however often it knocks
        with trail.one_act():
            trail.record(person, "token asked too often", person.user, details={"wait_seconds": left})
    return left if asked > settings.REQUESTS_A_MINUTE else None


def _refused(request: ArrivingRequest, shown: tokens.Shown) -> HttpResponse:
    # A device that keeps knocking must not fill the trail; a token in force is looked up before, and is never
    # made to wait for the failures of a neighbour behind the same address.
    who = f"account-{shown.account.pk}" if shown.account else f"address-{acting.origin().address}"
    failures = _count(f"token-refused-{who}", WITHIN_SECONDS)
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


def _count(name: str, seconds: int) -> int:
    """How often it happened, this time included, in the ``seconds`` since the first."""
    cache.add(name, 0, seconds)
    try:
        return cache.incr(name)
    except ValueError:  # its time ran out in between
        return 1
