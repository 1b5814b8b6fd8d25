"""A recording shown while it arrives."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.vary import vary_on_headers

from access.permissions import allowed
from access.requests import Request
from exams.traces.queries.live import live_of, seen_of, trace_shown
from exams.traces.services.growing import finish_left_trace
from exams.traces.services.seeing import show_figures
from exams.visits.queries.sheet import banner_of


def live(request: Request, trace_id: int) -> HttpResponse:
    """The page; sent as a form, it finishes what a device left half sent."""
    trace = trace_shown(request.person, trace_id)
    if request.method == "POST":
        try:
            finish_left_trace(trace=trace, by=request.person)
        except ValidationError as error:
            return _page(request, trace, problem=" ".join(error.messages), status=422)
        messages.success(request, "Finished with what had arrived. It is read next.")
        return redirect("traces:live", trace_id)
    return _page(request, trace)


@never_cache
@vary_on_headers("HX-Request")
def live_part(request: Request, trace_id: int) -> HttpResponse:
    """What changes of it, asked for once a second; nothing (204) while there is nothing new.

    Without a script the page comes here and reloads itself. It then names nobody, since it leaves no line.
    """
    trace = trace_shown(request.person, trace_id)
    if not request.htmx:
        return render(request, "traces/live.html", _shown(request, trace))
    if request.GET.get("seen") == seen_of(trace):
        return HttpResponse(status=204)
    shown = _shown(request, trace)
    shown["read_aloud"] = request.GET.get("stage") != shown["live"].stage
    return render(request, "traces/_live_part.html", shown)


def _page(request: Request, trace: Any, problem: str = "", status: int = 200) -> HttpResponse:
    # Its phases say where the return was found.
    show_figures(trace=trace, by=request.person, what="arriving trace viewed")
    patient = banner_of(trace.exam.patient, trace.exam.booked_for.date())
    context = {**_shown(request, trace), "patient": patient, "problem": problem}
    return render(request, "traces/live.html", context, status=status)


def _shown(request: Request, trace: Any) -> dict[str, Any]:
    return {"live": live_of(trace), "may_finish": allowed(request.person, "receive traces")}
