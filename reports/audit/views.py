from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from access.permissions import allowed
from access.trail import record_view
from reports.audit import drawing, services
from reports.audit.charts import FUNNEL_RULE, RUN_RULE
from reports.audit.definitions import measures
from reports.audit.forms import (
    AskForm,
    ChooseForm,
    DecideForm,
    HolidayForm,
    NamesForm,
    RowsForm,
    RulesForm,
    SumsForm,
    WhatIfForm,
)
from reports.audit.queries import figures, measure, quality, records, rows, rules, what_if
from reports.audit.queries.figures import measure_named


@never_cache
@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    everything = request.GET.get("all") == "1"
    page = figures.overview(request.person, request.GET.get("period", ""), everything)
    record_view(request.person, "audit figures viewed", details={"what": page.period.key})
    context = {
        "shown": page,
        "everything": everything,
        "under_way": figures.count_under_way(page.year),
        "may_choose": allowed(request.person, "choose measures"),
        "may_see_jobs": allowed(request.person, "see jobs"),
        "awaited": [one for one in measures().values() if not one.is_counted],
    }
    return render(request, "audit/overview.html", _shown(request, context))


@require_POST
def count(request: HttpRequest) -> HttpResponse:
    """Ask for the year of the period on the page to be counted anew."""
    period = figures.period_of(request.person, request.POST.get("period", ""))
    year = figures.year_of_period(period)
    try:
        services.ask_count(year=year, by=request.person)
    except ValidationError as refused:
        messages.error(request, refused.messages[0])
    else:
        messages.success(request, "The figures are being counted. This page says when they are there.")
    return redirect(f"{_here('overview')}?period={period.key}")


@never_cache
@require_safe
def definitions(request: HttpRequest) -> HttpResponse:
    return render(request, "audit/definitions.html", _shown(request, {"measures": measures().values()}))


@never_cache
@require_safe
def one(request: HttpRequest, name: str) -> HttpResponse:
    """One measure: its definition, run chart, funnel, what is missing."""
    page = measure.measure_page(request.person, measure_named(name), request.GET.get("period", ""))
    record_view(
        request.person, "audit measure viewed", details={"what": f"{page.measure.id} {page.period.key}"}
    )
    context = {
        "shown": page,
        "drawn": drawing.drawn(page),
        "run_rule": RUN_RULE,
        "funnel_rule": FUNNEL_RULE,
        "codes": [(measure.words_of_code(row.code), row) for row in page.codes],
        "places": drawing.clinics(page),
    }
    return render(request, "audit/measure.html", _shown(request, context))


@never_cache
@require_safe
def compare(request: HttpRequest, name: str) -> HttpResponse:
    """Two periods of one measure, and the interval of their difference."""
    first, second = request.GET.get("first", ""), request.GET.get("second", "")
    found = measure.comparison(request.person, measure_named(name), first, second)
    record_view(request.person, "audit periods compared", details={"what": found.measure.id})
    periods = [period for year in found.years for period in figures.periods_to_choose(request.person, year)]
    return render(request, "audit/compare.html", _shown(request, {"found": found, "periods": periods}))


@never_cache
@require_safe
def measure_rows(request: HttpRequest, name: str) -> HttpResponse:
    """The rows behind a figure, by pseudonym."""
    asked = request.GET.get("from", "0")
    start = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 9 else 0
    page = rows.rows_page(request.person, measure_named(name), request.GET.get("period", ""), start)
    record_view(request.person, "audit rows viewed", details={"what": f"{page.measure.id} {page.period.key}"})
    return render(request, "audit/rows.html", _shown(request, {"shown": page}))


@never_cache
@require_safe
def people(request: HttpRequest, name: str) -> HttpResponse:
    """A measure by whose work it was."""
    found = measure_named(name)
    period, listed = rows.people_page(request.person, found, request.GET.get("period", ""))
    record_view(request.person, "audit figures by person viewed", details={"what": found.id})
    context = {"measure": found, "period": period, "people": listed}
    return render(request, "audit/people.html", _shown(request, context))


@never_cache
@require_safe
def quality_page(request: HttpRequest) -> HttpResponse:
    found = quality.quality_page(request.person)
    record_view(request.person, "data quality viewed")
    context = {"found": found, "may_mend": quality.may_mend(request.person)}
    return render(request, "audit/quality.html", _shown(request, context))


@never_cache
@require_safe
def quality_list(request: HttpRequest, key: str) -> HttpResponse:
    check, lines, many = quality.quality_list(request.person, key)
    record_view(request.person, "list of records to mend viewed", details={"what": key})
    return render(
        request, "audit/quality_list.html", _shown(request, {"check": check, "lines": lines, "many": many})
    )


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    """Which measures come first, and the clinic's holidays."""
    chosen = [found.id for found in rules.chosen_measures(request.person.clinic)]
    form = ChooseForm(request.POST or None, initial={"measures": chosen})
    if request.method == "POST" and form.is_valid():
        services.choose_measures(chosen=form.cleaned_data["measures"], by=request.person)
        messages.success(request, "Chosen. These measures come first from now on.")
        return redirect("audit:overview")
    return _choose_page(request, form, HolidayForm(), 422 if form.is_bound else 200)


@never_cache
@require_POST
def add_holiday(request: HttpRequest) -> HttpResponse:
    form = HolidayForm(request.POST)
    if form.is_valid():
        try:
            services.add_holiday(by=request.person, **form.cleaned_data)
        except ValidationError:
            form.add_error("day", "That day is on the list already.")
        else:
            messages.success(request, "Added. Working days leave it out from the next count on.")
            return redirect("audit:choose")
    chosen = [found.id for found in rules.chosen_measures(request.person.clinic)]
    return _choose_page(request, ChooseForm(initial={"measures": chosen}), form, 422)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def set_rules(request: HttpRequest) -> HttpResponse:
    now = rules.rules_now()
    stands = {name: getattr(now, name) for name in ("year_starts_in", "threshold", "base", "least_alike")}
    form = RulesForm(request.POST or None, initial=stands)
    if request.method == "POST" and form.is_valid():
        services.set_rules(by=request.person, **form.cleaned_data)
        messages.success(request, "Set. Figures follow these rules from the next count on.")
        return redirect("audit:rules")
    status = 422 if form.is_bound else 200
    return render(request, "audit/rules.html", {"form": form, "stands": now}, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def reports(request: HttpRequest) -> HttpResponse:
    """The quarters in print; making one."""
    years = figures.years_to_choose(request.person)
    if request.method == "POST":
        quarter = figures.period_of(request.person, request.POST.get("quarter", ""))
        try:
            services.make_quarter(quarter=quarter, by=request.person)
        except ValidationError as refused:
            return _reports_page(request, years, refused.messages[0], 422)
        messages.success(request, "The report is being printed. This page says when it is there.")
        return redirect("audit:reports")
    return _reports_page(request, years, "", 200)


@never_cache
@require_safe
def report_pdf(request: HttpRequest, report_id: int) -> HttpResponse:
    report = records.report_for(request.person, report_id)
    try:
        data = services.open_quarter(report=report, by=request.person)
    except ValidationError as refused:
        return render(request, "audit/no_file.html", {"words": refused.messages[0]}, status=409)
    return _file(data, "application/pdf", f"audit-{report.quarter_first:%Y-%m}-{report.pk}.pdf")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def exports(request: HttpRequest) -> HttpResponse:
    """Files that leave the house: the list, and asking for rounded sums."""
    years = figures.years_to_choose(request.person)
    form = SumsForm(request.POST or None, years=years)
    if request.method == "POST" and form.is_valid():
        try:
            export = services.export_sums_of(by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            form.add_error("year", refused.messages[0])
        else:
            return redirect("audit:export", export.pk)
    status = 422 if form.is_bound else 200
    return _exports_page(request, form, status=status)


@never_cache
@require_POST
def ask_for_rows(request: HttpRequest) -> HttpResponse:
    form = RowsForm(request.POST, years=figures.years_to_choose(request.person))
    if form.is_valid():
        try:
            export = services.ask_for_rows(by=request.person, **form.cleaned_data)
        except ValidationError as refused:
            form.add_error("year", refused.messages[0])
        else:
            return redirect("audit:export", export.pk)
    return _exports_page(request, asking=form, status=422)


@never_cache
@require_POST
def ask_for_names(request: HttpRequest) -> HttpResponse:
    form = NamesForm(request.POST, years=figures.years_to_choose(request.person))
    if form.is_valid():
        export = services.ask_for_rows(by=request.person, named=True, **form.cleaned_data)
        return redirect("audit:export", export.pk)
    return _exports_page(request, naming=form, status=422)


@never_cache
@require_safe
def export(request: HttpRequest, export_id: int) -> HttpResponse:
    return _export_page(request, export_id, DecideForm(), 200)


@never_cache
@require_POST
def decide(request: HttpRequest, export_id: int) -> HttpResponse:
    found = records.export_for(request.person, export_id)
    form = DecideForm(request.POST)
    if form.is_valid():
        approve = form.cleaned_data["decision"] == "approve"
        try:
            services.decide(
                export=found, approve=approve, because=form.cleaned_data["because"], by=request.person
            )
        except ValidationError as refused:
            form.add_error(None, refused)
        else:
            return redirect("audit:export", found.pk)
    return _export_page(request, export_id, form, 422)


@never_cache
@require_POST
def cancel(request: HttpRequest, export_id: int) -> HttpResponse:
    found = records.export_for(request.person, export_id)
    try:
        services.cancel(export=found, by=request.person)
    except ValidationError as refused:
        messages.error(request, refused.messages[0])
    return redirect("audit:export", found.pk)


@never_cache
@require_POST
def link(request: HttpRequest, export_id: int) -> HttpResponse:
    """A link that opens the rows once, shown this once."""
    found = records.export_for(request.person, export_id)
    try:
        token = services.make_link(export=found, by=request.person)
    except ValidationError as refused:
        messages.error(request, refused.messages[0])
        return redirect("audit:export", found.pk)
    return _export_page(request, export_id, DecideForm(), 200, token=token)


@never_cache
@require_POST
def take(request: HttpRequest, export_id: int) -> HttpResponseBase:
    """The file: rounded sums as often as wanted, rows once and by the link."""
    found = records.export_for(request.person, export_id)
    try:
        file = services.take(export=found, by=request.person, token=request.POST.get("token", "")[:100])
    except ValidationError as refused:
        return render(request, "audit/no_file.html", {"words": refused.messages[0]}, status=409)
    name = f"audit-{found.holds}-{found.year_first:%Y-%m}-{found.pk}.zip"
    return FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def try_limit(request: HttpRequest) -> HttpResponse:
    """Drafts of criteria: moving a limit, and the drafts there are."""
    edges = what_if.edges(request.person)
    form = WhatIfForm(request.POST or None, edges=edges, initial={"last": 200})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            found = services.draft_criteria(
                edge=form.edges[said["edge"]], limit=said["whole"], last=said["last"], by=request.person
            )
        except ValidationError as refused:
            form.add_error("limit", refused.messages[0])
        else:
            return redirect("audit:draft", found.pk)
    record_view(request.person, "what-if of the criteria viewed")
    drafts = [(one, what_if.state_of(one)) for one in what_if.drafts_of(request.person)]
    status = 422 if form.is_bound else 200
    return render(
        request, "audit/what_if.html", _shown(request, {"form": form, "drafts": drafts}), status=status
    )


@never_cache
@require_safe
def draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    return _draft_page(request, draft_id, AskForm(), DecideForm(), 200)


@never_cache
@require_POST
def ask_for_approval(request: HttpRequest, draft_id: int) -> HttpResponse:
    found = what_if.draft_for(request.person, draft_id)
    form = AskForm(request.POST)
    if form.is_valid():
        try:
            services.ask_for_approval(draft=found, because=form.cleaned_data["because"], by=request.person)
        except ValidationError as refused:
            form.add_error("because", refused.messages[0])
        else:
            return redirect("audit:draft", found.pk)
    return _draft_page(request, draft_id, form, DecideForm(), 422)


@never_cache
@require_POST
def decide_draft(request: HttpRequest, draft_id: int) -> HttpResponse:
    found = what_if.draft_for(request.person, draft_id)
    form = DecideForm(request.POST)
    if form.is_valid():
        approve, because = form.cleaned_data["decision"] == "approve", form.cleaned_data["because"]
        try:
            services.decide_draft(draft=found, approve=approve, because=because, by=request.person)
        except ValidationError as refused:
            form.add_error(None, refused.messages[0])
        else:
            return redirect("audit:draft", found.pk)
    return _draft_page(request, draft_id, AskForm(), form, 422)


@never_cache
@require_safe
def draft_file(request: HttpRequest, draft_id: int) -> HttpResponse:
    """The file of an approved draft."""
    found = what_if.draft_for(request.person, draft_id)
    try:
        data = services.open_draft(draft=found, by=request.person)
    except ValidationError as refused:
        return render(request, "audit/no_file.html", {"words": refused.messages[0]}, status=409)
    return _file(data, "application/toml", f"{found.base_name}-draft-{found.pk}.toml")


def _draft_page(
    request: HttpRequest, draft_id: int, ask: AskForm, decide: DecideForm, status: int
) -> HttpResponse:
    page = what_if.draft_page(request.person, draft_id)
    record_view(request.person, "draft criteria viewed", subject=page.draft)
    context = {
        "shown": page,
        "ask": ask,
        "decide": decide,
        "may_see_jobs": allowed(request.person, "see jobs"),
        "may_see_exams": allowed(request.person, "see exam"),
    }
    return render(request, "audit/draft.html", _shown(request, context), status=status)


def _choose_page(request: HttpRequest, form: ChooseForm, holiday: HolidayForm, status: int) -> HttpResponse:
    context = {"form": form, "holiday": holiday, "holidays": rules.holidays_of(request.person.clinic)}
    return render(request, "audit/choose.html", _shown(request, context), status=status)


def _reports_page(request: HttpRequest, years: Any, problem: str, status: int) -> HttpResponse:
    quarters = [
        period
        for year in years[:2]
        for period in figures.periods_to_choose(request.person, year)
        if period.span == "quarter"
    ]
    context = {
        "reports": records.reports_of(request.person),
        "quarters": quarters[::-1],
        "problem": problem,
        "may_see_jobs": allowed(request.person, "see jobs"),
    }
    return render(request, "audit/reports.html", _shown(request, context), status=status)


def _exports_page(
    request: HttpRequest,
    form: SumsForm | None = None,
    asking: RowsForm | None = None,
    naming: NamesForm | None = None,
    status: int = 200,
) -> HttpResponse:
    years = figures.years_to_choose(request.person)
    context = {
        "form": form or SumsForm(years=years),
        "asking": asking or RowsForm(years=years),
        "naming": (naming or NamesForm(years=years))
        if allowed(request.person, "export with names")
        else None,
        "exports": [(one, records.state_of(one)) for one in records.exports_of(request.person)],
    }
    return render(request, "audit/exports.html", _shown(request, context), status=status)


def _export_page(
    request: HttpRequest, export_id: int, form: DecideForm, status: int, token: str = ""
) -> HttpResponse:
    found = records.export_for(request.person, export_id)
    context = {
        "export": found,
        "form": form,
        "token": token,
        "state": records.state_of(found),
        "mine": found.asked_by == request.person.user,
        "earlier": records.earlier_rows(found),
        "may_decide": records.may_decide(request.person, found),
        "may_see_jobs": allowed(request.person, "see jobs"),
    }
    return render(request, "audit/export.html", _shown(request, context), status=status)


def _shown(request: HttpRequest, context: dict[str, Any]) -> dict[str, Any]:
    """What every page of the room needs: its other pages that this person may open."""
    return {**context, "rooms": drawing.rooms(request.person, request.resolver_match)}


def _file(data: bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _here(name: str) -> str:
    return redirect(f"audit:{name}").url
