"""How "you are signed out" is said: a page is sent to the sign-in, a script is told in place."""

from typing import Any

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import resolve_url


def signed_out_answer(request: HttpRequest) -> HttpResponse:
    """A 401 with ``{"signed_out": true}`` to a script, so that a half-filled page stays as it is; a
    redirect to the sign-in page, and back afterwards, to a person."""
    if asks_from_a_script(request):
        answer: dict[str, Any] = {"signed_out": True, "sign_in": resolve_url("account_login")}
        return JsonResponse(answer, status=401)
    sign_in = resolve_url("account_login")
    if request.method == "GET":
        return redirect_to_login(request.get_full_path(), sign_in)
    return HttpResponseRedirect(sign_in)


def asks_from_a_script(request: HttpRequest) -> bool:
    """Whether the answer goes to a script on a page (htmx, fetch for JSON) and not to the address bar."""
    return (
        request.headers.get("HX-Request") == "true"
        or "application/json" in request.headers.get("Accept", "")
        or request.content_type == "application/json"
    )
