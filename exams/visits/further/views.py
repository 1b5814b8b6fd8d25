"""The pages of further tests: parse, call, render."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access import clock
from access.trail import record_view
from exams.visits.errors import StaleValue
from exams.visits.forms import EntryForm
from exams.visits.further.catalogue import further_test
from exams.visits.further.forms import CorrectFurtherForm, changed_entries
from exams.visits.further.page import FurtherPage, more_tests_of, page_of, typed_again
from exams.visits.further.services import FurtherTyped, save_further
from exams.visits.queries.exams import exam_for
from exams.visits.queries.sheet import banner_of, reason_list

KEPT = "What you typed is still in the field."


@never_cache
@require_safe
def more_tests(request: HttpRequest, exam_id: int) -> HttpResponse:
    """Which further tests there are, and those of this exam in short."""
    exam = exam_for(request.person, exam_id)
    record_view(request.person, "more tests viewed", subject=exam)
    context = {
        "exam_id": exam_id,
        "patient": banner_of(exam.patient, clock.now().date()),
        "booked_for": exam.booked_for,
        "tests": more_tests_of(exam),
    }
    return render(request, "visits/further/more_tests.html", context)


@never_cache
@require_safe
def more_tests_part(request: HttpRequest, exam_id: int) -> HttpResponse:
    """The same for the exam sheet; it names no patient."""
    exam = exam_for(request.person, exam_id)
    context = {"exam_id": exam_id, "tests": more_tests_of(exam)}
    return render(request, "visits/further/_more_tests.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def one_test(request: HttpRequest, exam_id: int, test: str = "category") -> HttpResponse:
    """One further test; a POST is the whole form, sent where JavaScript is missing."""
    exam, page = _page(request, exam_id, test)
    if request.method != "POST":
        return _test_page(request, exam, page)
    errors: dict[str, str] = {}
    for entry in changed_entries(page, request.POST):
        try:
            _save(request, exam, test, entry)
        except ValidationError as problem:
            errors[entry.field] = " ".join(problem.messages)
        except StaleValue as stale:
            errors[entry.field] = (
                f"{stale.by} entered {stale.shown} here meanwhile. Nothing was overwritten: "
                "save again to put yours, or type theirs."
            )
    if not errors:
        return redirect(request.path)
    _, page = _page(request, exam_id, test)
    return _test_page(request, exam, typed_again(page, request.POST.dict(), errors), status=422)


@never_cache
@require_POST
def save(request: HttpRequest, exam_id: int, test: str = "category") -> JsonResponse:
    """Save one field when it is left. Answers: 200 saved, 422 refused with words, 409 changed meanwhile."""
    exam, _ = _page(request, exam_id, test)
    form = EntryForm(request.POST)
    field = request.POST.get("field", "")[:60]
    if not form.is_valid():
        return JsonResponse({"error": form.words(), "field": field, "kept": KEPT}, status=422)
    said = form.cleaned_data
    if said["author"] is not None and said["author"] != request.person.user.pk:
        # Not refused for good: it goes on waiting in the browser until its own author has signed in again.
        return JsonResponse({"signed_out": True}, status=401)
    entry = FurtherTyped(
        said["field"], said["typed"], said["client_id"], said["seen_revision"], said["typed_at"]
    )
    try:
        saved = _save(request, exam, test, entry)
    except ValidationError as refused:
        return JsonResponse({"error": " ".join(refused.messages), "field": field, "kept": KEPT}, status=422)
    except StaleValue as stale:
        answer = {
            "stale": True,
            "field": stale.field,
            "theirs": stale.shown,
            "theirs_typed": stale.theirs,
            "by": stale.by,
            "at": stale.at.isoformat(),
            "yours": entry.typed,
            "revision": stale.revision,
        }
        return JsonResponse(answer, status=409)
    _, page = _page(request, exam_id, test)
    now = page.field(saved.field)
    return JsonResponse(
        {
            "saved": True,
            "field": saved.field,
            "revision": saved.revision,
            "typed": saved.typed,
            "shown": saved.shown,
            "note": now.note if now else saved.note,
            "spot_html": render_to_string("visits/further/_findings.html", {"further": page}, request),
        }
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def correct(request: HttpRequest, exam_id: int, field: str, test: str = "category") -> HttpResponse:
    """Correct one value of a measured exam, or add one that was forgotten, with a reason."""
    exam, page = _page(request, exam_id, test)
    stands = page.field(field)
    if stands is None or not page.needs_reason:
        raise Http404("no such value to correct")
    form = CorrectFurtherForm(request.POST or None, field=stands)
    back = page_url(exam_id, test)
    if request.method == "POST" and form.is_valid():
        try:
            _save(request, exam, test, form.entry())
        except ValidationError as refused:
            form.add_error("typed", refused)
        except StaleValue as stale:
            form.add_error(None, f"{stale.by} put {stale.shown} here meanwhile. Nothing was changed.")
        else:
            messages.success(request, "Corrected. What stood there stays readable beside it.")
            return redirect(back)
    record_view(request.person, "correction page viewed", subject=exam)
    context = {
        "patient": page.patient,
        "sheet_id": exam_id,
        "back": back,
        "field": stands,
        "form": form,
        "reason_list": reason_list(),
    }
    return render(request, "visits/correct.html", context, status=422 if request.method == "POST" else 200)


def page_url(exam_id: int, test: str) -> str:
    if test == "category":
        return reverse("visits:category", args=[exam_id])
    return reverse("visits:further", args=[exam_id, test])


def _page(request: HttpRequest, exam_id: int, test: str) -> tuple[Any, FurtherPage]:
    exam = exam_for(request.person, exam_id)
    known = further_test(test)
    if known is None:
        raise Http404("no such test")
    return exam, page_of(request.person, exam, known)


def _save(request: HttpRequest, exam: Any, test: str, entry: FurtherTyped) -> Any:
    known = further_test(test)
    if known is None:
        raise Http404("no such test")
    return save_further(exam=exam, test=known, entry=entry, by=request.person)


def _test_page(request: HttpRequest, exam: Any, page: FurtherPage, status: int = 200) -> HttpResponse:
    record_view(request.person, "further test viewed", subject=exam)
    where = "visits:category_save" if page.is_category else "visits:further_save"
    args = [page.exam_id] if page.is_category else [page.exam_id, page.test]
    context = {
        "further": page,
        "now": clock.now(),
        "here": page_url(page.exam_id, page.test),
        "save_url": reverse(where, args=args),
        "reason_list": reason_list(),
    }
    return render(request, "visits/further/test.html", context, status=status)
