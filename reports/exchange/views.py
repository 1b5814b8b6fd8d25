"""Pages of tables that come in: the list, one table, its columns; the steps to take it in and back."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.trail import record_view
from reports.exchange import queries, services
from reports.exchange.forms import ColumnsForm, SheetForm, TakeBackForm, TakeInForm, UploadForm
from reports.exchange.guessing import guessed
from reports.exchange.sheets import Profile, TableRefused, csv_bytes, xlsx_bytes

_KINDS = {
    "csv": ("text/csv; charset=utf-8", lambda rows: csv_bytes(rows)),
    "xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        lambda rows: xlsx_bytes(rows, "to mend"),
    ),
}


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def tables(request: HttpRequest) -> HttpResponse:
    form = UploadForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        form = UploadForm(request.POST, request.FILES)
        if form.is_valid():
            file = form.cleaned_data["file"]
            try:
                batch = services.receive_table(name=file.name, content=file.read(), by=request.person)
            except ValidationError as refused:
                form.take(refused)
            else:
                return redirect("exchange:columns", batch.pk)
    context = {"form": form, "batches": queries.batches(request.person)}
    return render(request, "exchange/tables.html", context, status=422 if form.errors else 200)


@never_cache
@require_safe
def table(request: HttpRequest, number: int) -> HttpResponse:
    return _table_page(request, queries.batch_for(request.person, number))


@never_cache
@require_POST
def sheet(request: HttpRequest, number: int) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    form = SheetForm(request.POST, profile=Profile.from_json(batch.profile))
    if form.is_valid():
        try:
            services.read_differently(batch=batch, by=request.person, **form.values())
        except ValidationError as refused:
            form.take(refused)
        else:
            return redirect("exchange:columns", batch.pk)
    return _columns_page(request, batch, sheet_form=form)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def columns(request: HttpRequest, number: int) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    if request.method != "POST":
        return _columns_page(request, batch)
    form = _columns_form(request, batch, request.POST)
    if form is None or not form.is_valid():
        return _columns_page(request, batch, form=form)
    mapping = form.named_mapping()
    try:
        services.name_columns(batch=batch, mapping=mapping, by=request.person)
        if form.cleaned_data["keep_as"]:
            services.save_template(name=form.cleaned_data["keep_as"], mapping=mapping, by=request.person)
        services.ask_for_check(batch=batch, by=request.person)
    except ValidationError as refused:
        form.take(refused)
        return _columns_page(request, batch, form=form)
    return redirect("exchange:table", batch.pk)


@never_cache
@require_POST
def check(request: HttpRequest, number: int) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    try:
        services.ask_for_check(batch=batch, by=request.person)
    except ValidationError as refused:
        return _table_page(request, batch, problem=" ".join(refused.messages))
    return redirect("exchange:table", batch.pk)


@never_cache
@require_safe
def error_sheet(request: HttpRequest, number: int, kind: str) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    if kind not in _KINDS:
        raise Http404("there are .csv and .xlsx")
    content_type, write = _KINDS[kind]
    try:
        rows = queries.error_sheet(batch)
    except TableRefused as error:
        return _table_page(request, batch, problem=str(error))
    record_view(request.person, "rows of a table taken to be mended", subject=batch)
    answer = HttpResponse(write(rows), content_type=content_type)
    answer["Content-Disposition"] = f'attachment; filename="to-mend-{batch.pk}.{kind}"'
    return answer


@never_cache
@require_POST
def take_in(request: HttpRequest, number: int) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    form = TakeInForm(request.POST, counts=batch.counts)
    form.is_valid()
    try:
        services.ask_to_take_in(batch=batch, by=request.person, **form.values())
    except ValidationError as refused:
        form.take(refused)
        return _table_page(request, batch, take_in_form=form)
    return redirect("exchange:table", batch.pk)


@never_cache
@require_POST
def take_back(request: HttpRequest, number: int) -> HttpResponse:
    batch = queries.batch_for(request.person, number)
    form = TakeBackForm(request.POST)
    if form.is_valid():
        try:
            services.ask_to_take_back(batch=batch, because=form.cleaned_data["because"], by=request.person)
        except ValidationError as refused:
            form.take(refused)
        else:
            messages.success(request, "The table is being taken back.")
            return redirect("exchange:table", batch.pk)
    return _table_page(request, batch, take_back_form=form)


def _table_page(
    request: HttpRequest,
    batch: Any,
    *,
    problem: str = "",
    take_in_form: TakeInForm | None = None,
    take_back_form: TakeBackForm | None = None,
) -> HttpResponse:
    record_view(request.person, "table viewed", subject=batch)
    wrong = bool(problem) or take_in_form is not None or take_back_form is not None
    issues = list(queries.issues(batch)[: queries.ISSUES_SHOWN])
    context = {
        "batch": batch,
        "profile": Profile.from_json(batch.profile),
        "sentence": queries.state_words(batch),
        "busy": queries.is_busy(batch),
        "failed": queries.has_failed(batch),
        "issues": issues,
        "issues_shown": queries.ISSUES_SHOWN,
        "exams": queries.exams_shown(batch),
        "take_in_form": take_in_form or TakeInForm(counts=batch.counts),
        "take_back_form": take_back_form or TakeBackForm(),
        "problem": problem,
    }
    return render(request, "exchange/table.html", context, status=422 if wrong else 200)


def _columns_form(request: HttpRequest, batch: Any, data: Any = None) -> ColumnsForm | None:
    head = queries.head_of(batch)
    if head.wrong:
        return None
    chosen = request.GET.get("template", "")
    mapping = queries.mapping_to_show(
        batch,
        head,
        queries.templates(request.person),
        int(chosen) if chosen.isdecimal() and len(chosen) < 10 else 0,
    )
    if data is not None:
        named = tuple(data.get(f"column_{place}", "") for place in range(len(mapping.headings)))
        asked = type(mapping)(mapping.headings, named, mapping.options)
    else:
        asked = mapping
    return ColumnsForm(data, mapping=mapping, guess=guessed(asked, queries.first_rows(batch)))


def _columns_page(
    request: HttpRequest, batch: Any, *, form: ColumnsForm | None = None, sheet_form: SheetForm | None = None
) -> HttpResponse:
    record_view(request.person, "columns of a table viewed", subject=batch)
    head = queries.head_of(batch)
    profile = Profile.from_json(batch.profile)
    wrong = bool(form is not None and form.errors) or sheet_form is not None
    form = form or (None if head.wrong else _columns_form(request, batch))
    sheet_form = sheet_form or SheetForm(
        profile=profile,
        initial={
            "sheet": batch.sheet,
            "heading_row": batch.heading_row,
            "encoding": profile.encoding,
            "separator": profile.separator,
        },
    )
    context = {
        "batch": batch,
        "profile": profile,
        "head": head,
        "form": form,
        "lines": list(zip(head.columns, form.column_fields, strict=True)) if form else [],
        "sheet_form": sheet_form,
        "templates": queries.templates(request.person),
        "preview": queries.preview(batch, form.mapping) if form and not form.errors else [],
    }
    return render(request, "exchange/columns.html", context, status=422 if wrong or head.wrong else 200)
