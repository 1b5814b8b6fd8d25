"""The exam sheet and the pages around it: parse, call, render."""

from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import NoReverseMatch, reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access import clock
from access.permissions import allowed
from access.trail import record_view
from exams.hemodynamics import InputError
from exams.patients.queries import patient_for
from exams.visits import forms, services
from exams.visits.errors import StaleValue
from exams.visits.plan import DONE_STATES, Place
from exams.visits.queries import comparison, exams
from exams.visits.queries import criteria as criteria_queries
from exams.visits.queries.chart import chart_of
from exams.visits.queries.fields import condition_field, reading_field
from exams.visits.queries.sheet import banner_of, reason_list, sheet_for, sheet_of
from exams.visits.sheet import Field, Sheet, step_refused, typed_again

KEPT = "What you typed is still in the field."


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def book(request: HttpRequest, patient_id: int) -> HttpResponse:
    """Book an exam of a patient."""
    patient = patient_for(request.person, patient_id)
    form = forms.BookForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            exam = services.book_exam(patient=patient, by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            _at_fields(form, refused)
        else:
            messages.success(request, "The exam is booked.")
            return redirect("visits:sheet", exam.pk)
    record_view(request.person, "booking page viewed", patient=patient)
    context = {"patient": banner_of(patient, clock.now().date()), "form": form}
    return render(request, "visits/book.html", context, status=422 if request.method == "POST" else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sheet(request: HttpRequest, exam_id: int) -> HttpResponse:
    """The exam sheet; a POST is the whole form, sent where JavaScript is missing."""
    if request.method == "POST":
        return _whole_form(request, exam_id)
    exam = exams.exam_for(request.person, exam_id)
    return _sheet_page(request, exam, sheet_of(request.person, exam))


@never_cache
@require_POST
def save(request: HttpRequest, exam_id: int) -> JsonResponse:
    """Save one field when it is left. Answers: 200 saved, 422 refused with words, 409 changed meanwhile."""
    exam = exams.exam_for(request.person, exam_id)
    form = forms.EntryForm(request.POST)
    field = request.POST.get("field", "")[:60]
    if not form.is_valid():
        return JsonResponse({"error": form.words(), "field": field, "kept": KEPT}, status=422)
    author = form.cleaned_data["author"]
    if author is not None and author != request.person.user.pk:
        # Not refused for good: it goes on waiting in the browser until its own author has signed in again.
        return JsonResponse({"signed_out": True}, status=401)
    try:
        saved = services.save_field(exam=exam, entry=form.entry(), by=request.person)
    except ValidationError as refused:
        return JsonResponse({"error": " ".join(refused.messages), "field": field, "kept": KEPT}, status=422)
    except StaleValue as stale:
        return JsonResponse(_stale(stale, form.cleaned_data["typed"]), status=409)
    return JsonResponse(_saved(request, saved, sheet_for(request.person, exam_id)))


@never_cache
@require_POST
def step(request: HttpRequest, exam_id: int) -> HttpResponse:
    """Take one step of the exam's course."""
    exam = exams.exam_for(request.person, exam_id)
    key = request.POST.get("step", "")
    try:
        STEPS.get(key, _no_such_step)(exam, request.POST, request.person)
    except ValidationError as refused:
        page = sheet_for(request.person, exam_id)
        page = step_refused(page, key, request.POST.dict(), _by_field(refused))
        return _sheet_page(request, exam, page, status=422)
    return redirect("visits:sheet", exam_id)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct(request: HttpRequest, exam_id: int, reading_id: int) -> HttpResponse:
    """Correct one reading, with a reason."""
    reading = exams.reading_for(request.person, exam_id, reading_id)
    chart = chart_of(reading.exam)
    field = reading_field(chart, Place(reading.side, reading.site, reading.attempt))
    given = {"site": reading.site, "locked": field.locked}
    if request.method != "POST":
        form = forms.CorrectForm(initial={"technique": reading.technique}, **given)
        return _correct_page(request, exam_id, chart, field, form)
    form = forms.CorrectForm(request.POST, **given)
    if form.is_valid():
        said = dict(form.cleaned_data)
        try:
            services.correct_reading(reading=reading, value=said.pop("typed"), by=request.person, **said)
        except ValidationError as refused:
            _at_fields(form, refused)
        except StaleValue as stale:
            form.add_error(None, f"{stale.by} put {stale.shown} here meanwhile. Nothing was changed.")
        else:
            messages.success(request, "Corrected. The first value stays readable beside it.")
            return redirect("visits:sheet", exam_id)
    return _correct_page(request, exam_id, chart, field, form, status=422)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct_condition(request: HttpRequest, exam_id: int, item: str) -> HttpResponse:
    """Correct one condition of a measured exam, or add one that was forgotten, with a reason."""
    exam = exams.exam_for(request.person, exam_id)
    chart = chart_of(exam)
    field = condition_field(chart, item)
    if field is None or exam.state not in DONE_STATES:
        raise Http404("no such condition to correct")
    if request.method != "POST":
        return _correct_page(request, exam_id, chart, field, forms.CorrectConditionForm(field=field))
    form = forms.CorrectConditionForm(request.POST, field=field)
    if form.is_valid():
        said = form.cleaned_data
        try:
            services.record_preparation(
                exam=exam,
                item=item,
                value=said["typed"],
                reason=said["reason"],
                seen_revision=said["seen"],
                client_id=uuid4(),
                by=request.person,
            )
        except ValidationError as refused:
            _at_fields(form, refused)
        except StaleValue as stale:
            form.add_error(None, f"{stale.by} put {stale.shown} here meanwhile. Nothing was changed.")
        else:
            messages.success(request, "Corrected. What stood there stays readable beside it.")
            return redirect("visits:sheet", exam_id)
    return _correct_page(request, exam_id, chart, field, form, status=422)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def hand_over(request: HttpRequest, hand_over_id: int) -> HttpResponse:
    """The slip of one critical result, and closing it."""
    slip = exams.hand_over_for(request.person, hand_over_id)
    if request.method != "POST":
        return _slip_page(request, slip)
    form = forms.HandOverForm(request.POST, person=request.person)
    if _kept(form, lambda: services.close_hand_over(slip=slip, by=request.person, **form.cleaned_data)):
        messages.success(request, "The slip is closed.")
        return redirect("visits:hand_over", hand_over_id)
    return _slip_page(request, slip, form=form, status=422)


@never_cache
@require_POST
def hand_over_attempt(request: HttpRequest, hand_over_id: int) -> HttpResponse:
    """A try to reach someone that failed."""
    slip = exams.hand_over_for(request.person, hand_over_id)
    form = forms.AttemptForm(request.POST)
    if _kept(form, lambda: services.record_attempt(slip=slip, by=request.person, **form.cleaned_data)):
        messages.success(request, "The try is recorded. The slip stays open.")
        return redirect("visits:hand_over", hand_over_id)
    return _slip_page(request, slip, attempt_form=form, status=422)


@never_cache
@require_POST
def hand_over_error(request: HttpRequest, hand_over_id: int) -> HttpResponse:
    """Close a slip that was raised in error."""
    slip = exams.hand_over_for(request.person, hand_over_id)
    form = forms.ErrorForm(request.POST)
    if _kept(
        form, lambda: services.close_as_raised_in_error(slip=slip, by=request.person, **form.cleaned_data)
    ):
        messages.success(request, "The slip is closed as raised in error.")
        return redirect("visits:hand_over", hand_over_id)
    return _slip_page(request, slip, error_form=form, status=422)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def criteria(request: HttpRequest) -> HttpResponse:
    """The diagnostic criteria that are shipped, which one the clinic uses, and adopting another."""
    problem = ""
    if request.method == "POST":
        form = forms.AdoptForm(request.POST)
        try:
            if not form.is_valid():
                raise ValidationError("Choose one of the criteria of the list. Nothing was changed.")
            services.adopt_criteria(by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            problem = " ".join(refused.messages)
        else:
            messages.success(request, "Adopted. Exams measured from now on are read by these criteria.")
            return redirect("visits:criteria")
    may_adopt = allowed(request.person, "adopt criteria")
    context = {
        "in_force": criteria_queries.in_force(request.person),
        "offered": criteria_queries.offered(),
        "may_adopt": may_adopt,
        "adoptions": criteria_queries.adoptions(request.person) if may_adopt else [],
        "problem": problem,
    }
    return render(request, "visits/criteria.html", context, status=422 if problem else 200)


@never_cache
@require_safe
def compare(request: HttpRequest, exam_id: int) -> HttpResponse:
    """The exam under its own criteria and under others (`?with=`)."""
    exam = exams.exam_for(request.person, exam_id)
    offered = criteria_queries.offered()
    name = request.GET.get("with", "") or offered[-1].name
    try:
        compared = comparison.comparison_of(request.person, exam_id, name)
    except InputError:
        raise Http404("no such criteria") from None
    record_view(request.person, "exam compared under other criteria", subject=exam)
    context = {
        "sheet_id": exam_id,
        "patient": banner_of(exam.patient, clock.now().date()),
        "comparison": compared,
        "offered": offered,
    }
    return render(request, "visits/compare.html", context)


# ---- the steps, and what each asks for


def _identity(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.confirm_identity(exam=exam, how=typed.get("how", ""), by=by)


def _indication(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.set_indication(
        exam=exam,
        indication=typed.get("indication", ""),
        indication_text=_words("indication_text", typed, 300),
        referrer=_words("referrer", typed, 160),
        by=by,
    )


def _cautions(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.confirm_cautions(exam=exam, by=by)


def _lying_flat(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    if not exam.entered_later:
        services.lie_flat(exam=exam, by=by)
        return
    day = exam.booked_for.astimezone(exam.clinic.zone)
    first = _paper_time("first_inflation_at", typed, day)
    if first is None:
        raise ValidationError({"first_inflation_at": "Give the time of the first cuff, as on the paper."})
    lying = _paper_time("lying_flat_at", typed, day)
    services.set_typed_times(exam=exam, lying_flat_at=lying, first_inflation_at=first, by=by)


def _measured(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.finish_measuring(exam=exam, by=by)


def _not_attended(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.not_attended(exam=exam, because=_words("because", typed, 200), by=by)


def _stopped(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.stop_exam(exam=exam, because=_words("because", typed, 200), by=by)


def _reopen(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    services.reopen(exam=exam, because=_words("because", typed, 200), by=by)


def _no_such_step(exam: Any, typed: Mapping[str, str], by: Any) -> None:
    raise ValidationError("There is no such step. Load the page again; nothing was changed.")


STEPS = {
    "identity": _identity,
    "indication": _indication,
    "cautions": _cautions,
    "lying_flat": _lying_flat,
    "measured": _measured,
    "not_attended": _not_attended,
    "stopped": _stopped,
    "reopen": _reopen,
}


def _words(name: str, typed: Mapping[str, str], most: int) -> str:
    try:
        return forms.read_words(typed.get(name, ""), most)
    except ValidationError as refused:
        raise ValidationError({name: refused.messages}) from None


def _paper_time(name: str, typed: Mapping[str, str], day: datetime) -> datetime | None:
    try:
        return forms.paper_time(typed.get(name, ""), day)
    except ValidationError as refused:
        raise ValidationError({name: refused.messages}) from None


# ---- pages and answers


def _whole_form(request: HttpRequest, exam_id: int) -> HttpResponse:
    exam = exams.exam_for(request.person, exam_id)
    page = sheet_for(request.person, exam_id)
    errors: dict[str, str] = {}
    for entry in forms.changed_entries(page, request.POST):
        try:
            services.save_field(exam=exam, entry=entry, by=request.person)
        except ValidationError as problem:
            errors[entry.field] = " ".join(problem.messages)
        except StaleValue as stale:
            errors[entry.field] = (
                f"{stale.by} entered {stale.shown} here meanwhile. Nothing was overwritten: "
                "save again to put yours, or type theirs."
            )
    if not errors:
        return redirect("visits:sheet", exam_id)
    now = typed_again(sheet_for(request.person, exam_id), request.POST.dict(), errors)
    return _sheet_page(request, exam, now, status=422)


def _sheet_page(request: HttpRequest, exam: Any, page: Sheet, status: int = 200) -> HttpResponse:
    record_view(request.person, "exam sheet viewed", patient=exam.patient_id, subject=exam)
    page = replace(page, report_url=_report_url(page.id, page.state))
    context = {"sheet": page, "now": clock.now()}
    return render(request, "visits/sheet.html", context, status=status)


def _report_url(exam_id: int, state: str) -> str:
    """Where the report of a measured exam is made; the room that makes it is above this one."""
    if state not in ("measured", "reported"):
        return ""
    try:
        return reverse("documents:make", args=[exam_id])
    except NoReverseMatch:
        return ""


def _saved(request: HttpRequest, saved: services.Saved, page: Sheet) -> dict[str, Any]:
    remarks = [
        {"field": one.field, "code": one.code, "words": one.words, "answer": one.answer}
        for one in page.remarks
    ]
    at = page.rest.first_inflation_at
    return {
        "saved": True,
        "revision": saved.revision,
        "field": saved.field,
        "typed": saved.typed,
        "shown": saved.shown,
        "note": saved.note,
        "remark": next((one for one in remarks if one["field"] == saved.field), None),
        "remarks": remarks,
        "spot_html": render_to_string("visits/_findings.html", {"sheet": page}, request=request),
        "hand_overs": [
            {
                "id": slip.id,
                "url": reverse("visits:hand_over", args=[slip.id]),
                "calls": slip.calls,
                "reads": slip.reads,
                "was": slip.was,
            }
            for slip in page.hand_overs
            if slip.is_open
        ],
        "progress": asdict(page.progress),
        "sentence": page.sentence,
        "open_fields": [one.name for group in page.groups for one in group.fields if not one.folded],
        "first_inflation_at": at.isoformat() if at else None,
    }


def _stale(stale: StaleValue, yours: str) -> dict[str, Any]:
    return {
        "stale": True,
        "field": stale.field,
        "theirs": stale.shown,
        "theirs_typed": stale.theirs,
        "by": stale.by,
        "at": stale.at.isoformat(),
        "yours": yours,
        "revision": stale.revision,
    }


def _correct_page(
    request: HttpRequest, exam_id: int, chart: Any, field: Field, form: Any, status: int = 200
) -> HttpResponse:
    record_view(request.person, "correction page viewed", subject=chart.exam)
    context = {
        "patient": banner_of(chart.exam.patient, chart.on),
        "sheet_id": exam_id,
        "field": field,
        "form": form,
        "reason_list": reason_list(),
    }
    return render(request, "visits/correct.html", context, status=status)


def _slip_page(
    request: HttpRequest,
    slip: Any,
    *,
    form: Any = None,
    attempt_form: Any = None,
    error_form: Any = None,
    status: int = 200,
) -> HttpResponse:
    record_view(request.person, "hand-over slip viewed", subject=slip)
    context = {
        "patient": banner_of(slip.exam.patient, clock.now().date()),
        "slip": slip,
        "attempts": exams.attempts_of(slip),
        "took_over": exams.taken_over_by(slip),
        "form": form or forms.HandOverForm(person=request.person),
        "attempt_form": attempt_form or forms.AttemptForm(),
        "error_form": error_form or forms.ErrorForm(),
    }
    return render(request, "visits/hand_over.html", context, status=status)


def _by_field(refused: ValidationError) -> dict[str, str]:
    if hasattr(refused, "error_dict"):
        return {name: " ".join(words) for name, words in refused.message_dict.items()}
    return {"": " ".join(refused.messages)}


def _kept(form: BaseForm, act: Callable[[], object]) -> bool:
    """Whether a filled-in form was accepted, also by the service; what it refuses stands at its fields."""
    if not form.is_valid():
        return False
    try:
        act()
    except ValidationError as refused:
        _at_fields(form, refused)
        return False
    return True


def _at_fields(form: Any, refused: ValidationError) -> None:
    """Put the service's words at the fields of the form they belong to; the rest above the form."""
    if not hasattr(refused, "error_dict"):
        form.add_error(None, refused)
        return
    for name, words in refused.message_dict.items():
        form.add_error(name if name in form.fields else None, words)
