"""The recordings of an exam: drop them, say where each belongs, take one back, take the file away again."""

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe
from django.views.decorators.vary import vary_on_headers

from access.permissions import allowed
from access.requests import Request
from access.trail import record_view
from exams.traces import forms
from exams.traces.files import TraceFileError
from exams.traces.guidance import GUIDANCE
from exams.traces.queries.exam import (
    attempts_taken,
    exam_listed,
    exam_shown,
    recordings_of,
    techniques_used,
    to_match,
    trace_for,
    traces_of,
)
from exams.traces.queries.live import growing_of
from exams.traces.queries.original import preview_of
from exams.traces.services import receiving
from exams.traces.services.dropping import Dropped, receive_dropped
from exams.traces.services.seeing import keep_seen
from exams.visits.queries.sheet import banner_of


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def exam(request: Request, exam_id: int) -> HttpResponse:
    """The list; a POST brings files, whole from a form or a few at a time from the page's script."""
    if request.method != "POST":
        return _exam_page(request, exam_listed(request.person, exam_id))
    found = exam_shown(request.person, exam_id)
    try:
        files, too_large = forms.dropped_files(request.FILES.getlist("files"))
    except ValidationError as refused:
        words = " ".join(refused.messages)
        if request.accepts("text/html"):
            return _exam_page(request, found, problem=words, status=422)
        return JsonResponse({"kept": [], "refused": [{"name": "", "words": words}]}, status=422)
    dropped = receive_dropped(exam=found, files=files, too_large=too_large, by=request.person)
    status = 200 if dropped.kept else 422
    if not request.accepts("text/html"):
        return JsonResponse(_dropped(dropped), status=status)
    if dropped.refused:
        return _exam_page(request, found, dropped=dropped, status=422)
    return redirect("traces:match", exam_id)


@never_cache
@require_safe
@vary_on_headers("HX-Request")
def exam_part(request: Request, exam_id: int) -> HttpResponse:
    """The list without its page: for the exam sheet, and for the page while something is on its way."""
    found = exam_listed(request.person, exam_id)
    if not request.htmx:
        return redirect("traces:exam", exam_id)
    whole = "whole" in request.GET
    shown = _listed(request, found, whole=whole)
    told = [one.trace_id for one in shown["lines"] if one.untold and one.in_sheet]
    if told and not whole:
        # It stands on the exam sheet, beside the values.
        keep_seen(traces=told, by=request.person)
        shown = _listed(request, found, whole=whole)
    return render(request, "traces/_part.html", shown)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def match(request: Request, exam_id: int) -> HttpResponse:
    """Say of each dropped file which site it is. What is right is kept, also beside what is not."""
    found = exam_shown(request.person, exam_id)
    traces = to_match(found)
    if request.method != "POST":
        techniques = forms.TechniqueForm(initial=techniques_used(found))
        made = forms.match_forms(traces, attempts_taken(found), techniques)
        return _match_page(request, found, techniques, made)
    techniques = forms.TechniqueForm(request.POST)
    made = forms.match_forms(traces, {}, techniques, request.POST)
    whole = [form.is_valid() for form in made]
    forms.forbid_doubles(made)
    matched, left = [], []
    for form, valid in zip(made, whole, strict=True):
        if valid and form.is_valid() and not form.is_left and _matched(request, form):
            matched.append(form.trace)
        else:
            left.append(form)
    if matched:
        count = len(matched)
        messages.success(
            request, "One recording has its site." if count == 1 else f"{count} recordings have their site."
        )
    if any(form.errors for form in left):
        return _match_page(request, found, techniques, left, status=422)
    if made and not matched:
        problem = "Nothing was said yet: choose side and site of at least one file."
        return _match_page(request, found, techniques, left, problem=problem, status=422)
    unclear = next((one for one in matched if one.columns is None), None)
    if unclear is not None:
        return redirect("traces:columns", unclear.pk)
    return redirect("traces:exam", exam_id)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def columns(request: Request, trace_id: int) -> HttpResponse:
    """Say which column of a file is which."""
    trace = trace_for(request.person, trace_id)
    try:
        preview = preview_of(trace)
    except TraceFileError as refused:
        return _columns_page(request, trace, problem=refused.words, status=409)
    except ValidationError as refused:
        return _columns_page(request, trace, problem=" ".join(refused.messages), status=409)
    form = forms.ColumnsForm(request.POST or None, preview=preview)
    if request.method != "POST":
        return _columns_page(request, trace, form)
    if form.is_valid():
        try:
            receiving.confirm_columns(trace=trace, columns=form.columns(), by=request.person)
        except ValidationError as refused:
            form.add_error(None, refused)
        else:
            return _after_columns(request, trace)
    return _columns_page(request, trace, form, status=422)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def withdraw(request: Request, trace_id: int) -> HttpResponse:
    """Take back a recording that was attached in error."""
    trace = trace_for(request.person, trace_id)
    form = forms.WithdrawForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            receiving.withdraw_trace(trace=trace, because=form.cleaned_data["because"], by=request.person)
        except ValidationError as refused:
            form.add_error(None, " ".join(refused.messages))
        else:
            messages.success(
                request, "The recording is withdrawn. It stays in the list below, with your reason."
            )
            return redirect("traces:exam", trace.exam_id)
    record_view(request.person, "trace withdrawal opened", subject=trace)
    context = {**_about(request, trace), "form": form}
    return render(request, "traces/withdraw.html", context, status=422 if request.method == "POST" else 200)


@never_cache
@require_safe
def original(request: Request, trace_id: int) -> HttpResponse:
    """The file as it came."""
    trace = trace_for(request.person, trace_id)
    try:
        content = receiving.open_original(trace=trace, by=request.person)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
        return redirect("traces:exam", trace.exam_id)
    answer = HttpResponse(content, content_type="application/octet-stream")
    # Not the name it came with: that often names the patient, and stays behind in folders of downloads.
    ending = {"csv": "csv", "edf": "edf"}.get(trace.format, "zip")
    answer["Content-Disposition"] = f'attachment; filename="trace-{trace.pk}.{ending}"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _exam_page(
    request: Request, found: Any, *, problem: str = "", dropped: Dropped | None = None, status: int = 200
) -> HttpResponse:
    record_view(request.person, "traces of an exam viewed", subject=found)
    context = {
        **_listed(request, found, whole=True),
        "patient": banner_of(found.patient, found.booked_for.date()),
        "guidance": GUIDANCE,
        "most_files": forms.MOST_FILES,
        "problem": problem,
        "dropped": dropped,
    }
    return render(request, "traces/exam.html", context, status=status)


def _listed(request: Request, found: Any, *, whole: bool) -> dict[str, Any]:
    recordings = recordings_of(request.person, found)
    lines = recordings.lines
    growing = growing_of(found.pk) if any(one.state == "growing" for one in lines) else []
    return {
        "exam": found,
        "lines": lines,
        "used": recordings.technique,
        "growing": growing,
        "to_match": [one for one in lines if one.needs == "site"],
        "to_review": [one for one in lines if one.to_review],
        # Asked for again by itself while a worker or a device is still at it.
        "moving": bool(growing) or any(one.state == "waiting" for one in lines),
        "whole": whole,
        "may_receive": allowed(request.person, "receive traces"),
        "may_mark": allowed(request.person, "mark traces"),
    }


def _dropped(dropped: Dropped) -> dict[str, Any]:
    return {
        "kept": [one.original_name for one in dropped.kept],
        "refused": [{"name": one.name, "words": one.words} for one in dropped.refused],
    }


def _matched(request: Request, form: forms.MatchForm) -> bool:
    """Whether the service took it; what it refuses stands at its field."""
    said = {
        name: form.cleaned_data[name] for name in ("side", "site", "attempt", "technique", "cuff_width_mm")
    }
    try:
        form.trace = receiving.match_trace(trace=form.trace, by=request.person, **said)
    except ValidationError as refused:
        words = refused.message_dict if hasattr(refused, "error_dict") else {None: refused.messages}
        for name, said_of in words.items():
            form.add_error(name, said_of)
        return False
    return True


def _match_page(
    request: Request,
    found: Any,
    techniques: forms.TechniqueForm,
    made: Sequence[forms.MatchForm],
    *,
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "trace matching opened", subject=found)
    context = {
        "exam": found,
        "patient": banner_of(found.patient, found.booked_for.date()),
        "techniques": techniques,
        "forms": made,
        "problem": problem,
    }
    return render(request, "traces/match.html", context, status=status)


def _columns_page(
    request: Request,
    trace: Any,
    form: forms.ColumnsForm | None = None,
    *,
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "trace columns opened", subject=trace)
    context = {**_about(request, trace), "form": form, "problem": problem}
    if form is not None:
        context["preview"] = form.preview
        context["layout"] = forms.layout_words(form.preview)
        context["named"] = [{"words": forms.column_words(one), "column": one} for one in form.preview.columns]
        context["rows"] = list(zip(*(one.first for one in form.preview.columns), strict=True))
    return render(request, "traces/columns.html", context, status=status)


def _after_columns(request: Request, trace: Any) -> HttpResponse:
    """To the next file whose columns must be said, or to the list."""
    if not trace.site:
        return redirect("traces:match", trace.exam_id)
    lines = traces_of(request.person, trace.exam)
    following = next((one for one in lines if one.needs == "columns" and one.state == "arrived"), None)
    messages.success(request, "The columns are confirmed; the recording is being read.")
    if following is not None:
        return redirect("traces:columns", following.trace_id)
    return redirect(reverse("traces:exam", args=[trace.exam_id]))


def _about(request: Request, trace: Any) -> dict[str, Any]:
    exam = trace.exam
    return {
        "trace": trace,
        "exam": exam,
        "line": next(one for one in traces_of(request.person, exam) if one.trace_id == trace.pk),
        "patient": banner_of(exam.patient, exam.booked_for.date()),
    }
