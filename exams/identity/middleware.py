"""Whoever asks for a record that was merged into another is led on to that one, and told so."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from access.trail import record_view
from exams.patients.queries import MergedAway

Answer = Callable[[HttpRequest], HttpResponse]
_LED_ON = "The record you asked for was merged into this one, which stands in its place."


class LeadsOn:
    """Answers for every page of a merged record: a look leads on, a change is refused with where to go."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, MergedAway):
            return None
        merged = exception.patient
        record_view(request.person, "merged record asked for", patient=merged, subject=merged)  # type: ignore[attr-defined]
        if request.method in ("GET", "HEAD"):
            messages.info(request, _LED_ON)
            return redirect("timeline:patient", merged.merged_into_id)
        return render(request, "identity/merged_away.html", {"patient": merged}, status=409)
