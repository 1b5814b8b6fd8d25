"""The pages shown when something went wrong. They know nothing of the request, so give nothing away."""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from access.middleware import record_failure
from access.refusals import error_page_answer
from access.requests import ArrivingRequest


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(request, 400)


def refused(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(request, 403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(request, 404)


def failed(request: HttpRequest) -> HttpResponse:
    return _page(request, 500)


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    # Perhaps only an old page, perhaps another site acting under somebody's sign-in: that leaves a line.
    if getattr(request, "person", None) is not None:
        record_failure(cast(ArrivingRequest, request), "refused, form expired or not ours")
    return HttpResponse(render_to_string("errors/form_expired.html"), status=403)


def _page(request: HttpRequest, status: int) -> HttpResponse:
    if request.path.startswith("/api/"):
        return error_page_answer(status)
    return HttpResponse(render_to_string(f"errors/{status}.html"), status=status)
