"""How "you are signed out" is said: a page is sent to the sign-in, a script is told in place."""

from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.core import signing
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render, resolve_url

from access.people import Person

# Stands in a form that is sent again after the sign-in had ended: whose form it is.
TYPED_BY = "typed_by"
_SALT = "typed by"


def signed_out_answer(request: HttpRequest, ended: Person | None = None) -> HttpResponse:
    """What somebody who is not signed in gets instead of the page.

    A script gets a 401 with ``{"signed_out": true}``, so that a half-filled page stays as it is. A person who
    opens a page is sent to the sign-in and back. A form that arrives with a sign-in that has just ended
    (``ended``: whose) comes back as a page that holds everything typed, to be sent again after signing in. A
    locked sign-in is answered in the same way, with the page that unlocks it.
    """
    locked: Person | None = getattr(request, "locked", None)
    sign_in = resolve_url("access:unlock" if locked else "account_login")
    ended = ended or locked
    if asks_from_a_script(request):
        answer: dict[str, Any] = {"signed_out": True, "sign_in": sign_in}
        return JsonResponse(answer, status=401)
    if request.method == "GET":
        return redirect_to_login(request.get_full_path(), sign_in)
    if ended is None or not typed_values(request):
        return HttpResponseRedirect(sign_in)
    whose = signing.dumps(ended.user.pk, salt=_SALT)
    context = {
        "typed": [*typed_values(request), (TYPED_BY, whose)],
        "ended": ended,
        "locked": locked,
        "sign_in": sign_in,
    }
    return render(request, "access/signed_out.html", context, status=401)


def typed_by_somebody_else(request: HttpRequest, by: Person) -> bool:
    """Whether this form was typed under the sign-in of another person, who may not act as this one."""
    whose = request.POST.get(TYPED_BY) if request.method == "POST" else None
    if whose is None:
        return False
    try:
        return bool(signing.loads(whose, salt=_SALT) != by.user.pk)
    except signing.BadSignature:
        return True


def asks_from_a_script(request: HttpRequest) -> bool:
    """Whether the answer goes to a script on a page (htmx, fetch for JSON) and not to the address bar."""
    return (
        request.headers.get("HX-Request") == "true"
        or "application/json" in request.headers.get("Accept", "")
        or request.content_type == "application/json"
    )


def typed_values(request: HttpRequest, *, without: frozenset[str] = frozenset()) -> list[tuple[str, str]]:
    """Every field of a sent form, in order, for a page that carries them along."""
    left_out = without | {"csrfmiddlewaretoken", TYPED_BY}
    return [
        (name, str(value))
        for name, values in request.POST.lists()
        if name not in left_out
        for value in values
    ]
