"""Pages of reports: the list, the conclusion before one is made, one report with its state, its PDF."""

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from access import clock
from access.permissions import allowed
from access.trail import record_view
from reports.documents import queries, services
from reports.documents.drawn_list import made_rows, waiting_rows
from reports.documents.forms import ConclusionForm


@never_cache
@require_safe
def reports(request: HttpRequest) -> HttpResponse:
    found = queries.reports_page(request.person)
    record_view(request.person, "list of reports viewed")
    may_make = allowed(request.person, "make report")
    now = clock.now()
    context = {
        "reports": found,
        "waiting_rows": waiting_rows(found.waiting, may_make=may_make, now=now),
        "made_rows": made_rows(found.documents, now),
    }
    return render(request, "documents/list.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def make(request: HttpRequest, exam_id: int) -> HttpResponse:
    draft = queries.draft_for(request.person, exam_id)
    if request.method != "POST":
        initial = {"conclusion": draft.drafted, "drafted": draft.drafted, "seen": draft.seen}
        initial["after"] = str(draft.newest_number)
        form = ConclusionForm(initial=initial, interpretation=draft.interpretation)
        return _make_page(request, draft, form)
    form = ConclusionForm(request.POST, interpretation=draft.interpretation)
    if form.is_valid():
        try:
            made = services.make_report(
                exam=draft.exam,
                conclusion=form.cleaned_data["conclusion"],
                drafted=draft.drafted,
                seen=form.cleaned_data["seen"],
                after=form.cleaned_data["after"] or 0,
                by=request.person,
            )
        except ValidationError as refused:
            form.add_error(None, refused)
        else:
            return redirect("documents:document", made.pk)
    return _make_page(request, draft, form, status=422)


def _make_page(
    request: HttpRequest, draft: queries.Draft, form: ConclusionForm, status: int = 200
) -> HttpResponse:
    record_view(request.person, "report conclusion opened", subject=draft.exam)
    # The next try is made against the findings and reports now on the page, not against those first seen.
    if form.is_bound:
        form.data = {**form.data.dict(), "seen": draft.seen, "after": str(draft.newest_number)}
    context = {
        "draft": draft,
        "form": form,
        "ladders": draft.ladders,
        "rows": draft.rows,
        "statements": draft.statements,
    }
    return render(request, "documents/make.html", context, status=status)


@never_cache
@require_safe
def exam(request: HttpRequest, exam_id: int) -> HttpResponse:
    """The newest report of an exam; where there is none, the page to make it."""
    found, newest = queries.newest_of_exam(request.person, exam_id)
    if newest is not None:
        return redirect("documents:document", newest)
    if allowed(request.person, "make report"):
        return redirect("documents:make", exam_id)
    record_view(request.person, "report asked for", subject=found)
    return render(request, "documents/none.html", {"exam": found})


@never_cache
@require_safe
def document(request: HttpRequest, document_id: int) -> HttpResponse:
    page = queries.document_page(request.person, document_id)
    record_view(request.person, "report viewed", subject=page.document, patient=page.document.exam.patient_id)
    may_make = allowed(request.person, "make report")
    context = {"shown": page, "may_make": may_make, "may_see_jobs": allowed(request.person, "see jobs")}
    return render(request, "documents/document.html", context)


@never_cache
@require_safe
def pdf(request: HttpRequest, document_id: int) -> HttpResponse:
    found = queries.document_for(request.person, document_id)
    try:
        data = services.open_pdf(document=found, by=request.person)
    except ValidationError as refused:
        context = {"document": found, "words": refused.messages[0]}
        return render(request, "documents/no_file.html", context, status=409)
    answer = HttpResponse(data, content_type="application/pdf")
    # No name or number of a person in a file name: it stays behind in folders of downloads.
    answer["Content-Disposition"] = f'attachment; filename="exam-{found.exam_id}-report-{found.number}.pdf"'
    return answer
