"""Ends a session some time after its last request, without writing the session on every request."""

import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# The end is moved forward at most this often; a session may so end up to this much early.
_STEP_SECONDS = 30


class IdleSignOut:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        now = int(time.time())
        if request.user.is_authenticated and now - request.session.get("last_request", 0) >= _STEP_SECONDS:
            request.session["last_request"] = now  # saving moves the end by SESSION_COOKIE_AGE
        return self.get_response(request)
