"""To come."""

from django.http import Http404, HttpRequest, HttpResponse


def waiting(request: HttpRequest) -> HttpResponse:
    raise Http404


def of_reading(request: HttpRequest, reading_id: int) -> HttpResponse:
    raise Http404


def desk(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def blind(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def window(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def thumbnail(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404
