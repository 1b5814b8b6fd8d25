"""To come."""

from django.http import Http404, HttpRequest, HttpResponse


def live(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def live_part(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404
