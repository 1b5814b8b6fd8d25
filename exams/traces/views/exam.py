"""To come."""

from django.http import Http404, HttpRequest, HttpResponse


def exam(request: HttpRequest, exam_id: int) -> HttpResponse:
    raise Http404


def exam_part(request: HttpRequest, exam_id: int) -> HttpResponse:
    raise Http404


def match(request: HttpRequest, exam_id: int) -> HttpResponse:
    raise Http404


def columns(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def withdraw(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404


def original(request: HttpRequest, trace_id: int) -> HttpResponse:
    raise Http404
