"""The pages of agreement: parse, call, render."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.permissions import allowed
from access.trail import record_view
from exams.visits.agreement import queries, services
from exams.visits.agreement.forms import RepeatForm, WithdrawForm
from exams.visits.plan import DONE_STATES
from exams.visits.queries.exams import exam_for
from exams.visits.queries.sheet import banner_of


@never_cache
@require_safe
def noise(request: HttpRequest) -> HttpResponse:
    """How far two measurements of an unchanged foot differ in this clinic, measure by measure."""
    return render(request, "visits/agreement/noise.html", {"shown": queries.noise_page(request.person)})


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def repeat(request: HttpRequest, exam_id: int) -> HttpResponse:
    """Say that this exam repeats another for an agreement study."""
    exam = exam_for(request.person, exam_id)
    if request.method != "POST":
        return _page(request, exam)
    form = _form(request, exam, request.POST)
    if form.is_valid():
        try:
            services.record_repeat(exam=exam, by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            _at_fields(form, refused)
        else:
            messages.success(request, "Recorded: the two exams are a pair.")
            return redirect("visits:agreement", exam_id)
    return _page(request, exam, form=form, status=422)


@never_cache
@require_POST
def withdraw(request: HttpRequest, exam_id: int) -> HttpResponse:
    """Take a pair back."""
    exam = exam_for(request.person, exam_id)
    pair = queries.repeat_of(exam)
    if pair is None:
        raise Http404("this exam is in no pair")
    form = WithdrawForm(request.POST, label_suffix="")
    if form.is_valid():
        try:
            services.withdraw_repeat(repeat=pair, by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            _at_fields(form, refused)
        else:
            messages.success(request, "Taken back. It stays in the record, with your reason.")
            return redirect("visits:agreement", exam_id)
    return _page(request, exam, withdrawing=form, status=422)


def _page(
    request: HttpRequest, exam: Any, *, form: Any = None, withdrawing: Any = None, status: int = 200
) -> HttpResponse:
    record_view(request.person, "agreement of an exam viewed", patient=exam.patient, subject=exam)
    pair = queries.repeat_of(exam)
    if pair is None and form is None:
        form = _form(request, exam)
    on = queries.day_of(exam, exam.clinic)
    context = {
        "exam": exam,
        "on": on,
        "patient": banner_of(exam.patient, on),
        "finished": exam.state in DONE_STATES,
        "pair": pair,
        "pair_days": (queries.day_of(pair.first, exam.clinic), queries.day_of(pair.exam, exam.clinic))
        if pair
        else None,
        "form": form,
        "withdrawing": withdrawing or WithdrawForm(label_suffix=""),
        "may_measure": allowed(request.person, "measure"),
        "most_days": queries.MOST_DAYS_APART,
    }
    return render(request, "visits/agreement/repeat.html", context, status=status)


def _form(request: HttpRequest, exam: Any, typed: Any = None) -> RepeatForm:
    offered = queries.may_repeat(exam)
    return RepeatForm(
        typed, exam=exam, offered=offered, staff=queries.staff_of(request.person), by=request.person.user
    )


def _at_fields(form: Any, refused: ValidationError) -> None:
    for name, words in refused.message_dict.items():
        form.add_error(name if name in form.fields else None, words)
