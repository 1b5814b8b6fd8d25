"""The patient page, the summary of both limbs, the limb timeline, and what can be taken from it."""

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from access import clock
from access.permissions import allowed
from access.trail import record_view
from exams.identity.queries import notices_of
from exams.patients.queries import today_for
from reports.timeline import queries
from reports.timeline.figure import FIGURES, NAMES, drawn
from reports.timeline.figure_file import as_png, as_svg
from reports.timeline.forms import KnownOnForm, TwoExamsForm
from reports.timeline.lean import with_recordings
from reports.timeline.queries import ComparisonPage, DrawnPage, TimelinePage
from reports.timeline.table import as_csv
from reports.timeline.words import figures_of, limbs_of


@never_cache
@require_safe
def patient(request, patient_id: int) -> HttpResponse:
    """RIGHT and LEFT at a glance, what must be handed over, and every exam."""
    shown = queries.patient_page(request.person, patient_id, all_exams=request.GET.get("exams") == "all")
    record_view(request.person, "patient page viewed", patient=shown.patient, subject=shown.patient)
    return render(
        request,
        "timeline/patient.html",
        {
            "shown": shown,
            "notices": shown.notices,
            "waiting": shown.waiting,
            "may_book": allowed(request.person, "book exam"),
            "now": clock.now(),
        },
    )


@never_cache
@require_safe
def summary(request, patient_id: int) -> HttpResponse:
    """Each limb in ten seconds."""
    shown = queries.summary_page(request.person, patient_id)
    record_view(request.person, "limb summary viewed", patient=shown.patient, subject=shown.patient)
    return render(request, "timeline/summary.html", {"shown": shown, "notices": shown.notices})


@never_cache
@require_safe
def timeline(request, patient_id: int) -> HttpResponse:
    """Both limbs over the years: the figures and their table."""
    known, year = _known_on(request), _year(request)
    all_exams = request.GET.get("exams") == "all"
    as_usual = known.day is None and year is None and not all_exams
    shown: TimelinePage | DrawnPage
    drawn_before = queries.drawn_page(request.person, patient_id) if as_usual else None
    if drawn_before:
        shown, notices, html = drawn_before, drawn_before.notices, drawn_before.html
    else:
        shown = made = queries.timeline_page(
            request.person, patient_id, known.day, all_exams=all_exams, year=year
        )
        notices, html = notices_of(made.patient), _years(made)
        # Who found an exam to be somebody else's stands on the page, and a name changes without an act here.
        if as_usual and not made.years.in_error:
            queries.keep_drawn(made, html)
    _leave_line(request, "limb timeline viewed", shown)
    context = {
        "shown": shown,
        "notices": notices,
        "known": known,
        "years": with_recordings(html, shown.recordings),
    }
    return render(request, "timeline/timeline.html", context)


def _years(shown: TimelinePage) -> str:
    """All that hangs on the exams alone: who looks, and which recordings they may see, is put around it."""
    return render_to_string(
        "timeline/_years.html",
        {
            "shown": shown,
            "data": drawn(shown.years),
            "figures": figures_of(shown.years),
            "limbs": limbs_of(shown.years, shown.newest, shown.listed),
            "names": NAMES.values(),
        },
    )


def _year(request) -> int | None:
    """The year whose exams are listed; None where what was asked for is none."""
    typed = request.GET.get("year", "")
    return int(typed) if typed.isascii() and typed.isdecimal() and len(typed) == 4 else None


@never_cache
@require_safe
def two_exams(request, patient_id: int) -> HttpResponse:
    """Any two exams side by side, both limbs, every measure and site."""
    known = _known_on(request)
    shown = queries.comparison_page(request.person, patient_id, known_on=known.day)
    form = TwoExamsForm(
        request.GET if "earlier" in request.GET else None, exams=shown.exams, initial=shown.newest_two
    )
    if form.is_valid():
        shown = shown.of(form.cleaned_data["earlier"], form.cleaned_data["later"])
    _leave_line(request, "two exams compared", shown)
    context = {"shown": shown, "notices": notices_of(shown.patient), "form": form, "known": known}
    return render(request, "timeline/two_exams.html", context)


@never_cache
@require_safe
def table(request, patient_id: int) -> HttpResponse:
    """The timeline's rows as CSV; leaving the service with them is a line of its own in the trail."""
    known = _known_on(request)
    if not known.is_valid():
        return _asked_again(request, patient_id)
    shown = queries.timeline_page(request.person, patient_id, known.day)
    _leave_line(request, "limb timeline table taken as CSV", shown)
    return HttpResponse(
        as_csv(shown.years),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="limb-timeline-{shown.patient.pk}.csv"'},
    )


@never_cache
@require_safe
def figure(request, patient_id: int, key: str) -> HttpResponse:
    """One figure as SVG, with whose it is and when it was made written on it."""
    return _figure_file(request, patient_id, key, "svg")


@never_cache
@require_safe
def figure_png(request, patient_id: int, key: str) -> HttpResponse:
    """The same figure as PNG, for where an SVG cannot be put."""
    return _figure_file(request, patient_id, key, "png")


def _figure_file(request, patient_id: int, key: str, kind: str) -> HttpResponse:
    if key not in FIGURES:
        raise Http404("no such figure")
    known = _known_on(request)
    if not known.is_valid():
        return _asked_again(request, patient_id)
    shown = queries.timeline_page(request.person, patient_id, known.day)
    _leave_line(request, f"limb timeline figure taken as {kind.upper()}", shown, figure=key)
    file = as_svg(shown, key) if kind == "svg" else as_png(shown, key)
    name = f"limb-timeline-{shown.patient.pk}-{key}.{kind}"
    return HttpResponse(
        file,
        content_type="image/svg+xml" if kind == "svg" else "image/png",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _known_on(request) -> KnownOnForm:
    return KnownOnForm(request.GET, today=today_for(request.person))


def _asked_again(request, patient_id: int) -> HttpResponse:
    """Back to the page, which says what is wrong with the day: a file of today is not what was asked for."""
    return redirect(f"{reverse('timeline:timeline', args=[patient_id])}?{request.GET.urlencode()}")


def _leave_line(request, what: str, shown: TimelinePage | DrawnPage | ComparisonPage, **details: str) -> None:
    """One line in the trail, which names the past day of a record shown as it was known then."""
    if shown.known_on:
        details["as_known_on"] = shown.known_on.isoformat()
    record_view(request.person, what, patient=shown.patient, subject=shown.patient, details=details)
