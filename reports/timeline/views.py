"""The patient page, the limb timeline and its table for a spreadsheet."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from access import clock
from access.permissions import allowed
from access.trail import record_view
from reports.timeline import queries
from reports.timeline.figure import NAMES, drawn
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
        {"shown": shown, "may_book": allowed(request.person, "book exam"), "now": clock.now()},
    )


@never_cache
@require_safe
def timeline(request, patient_id: int) -> HttpResponse:
    """Both limbs over the years: the figures and their table."""
    shown = queries.timeline_page(request.person, patient_id)
    record_view(request.person, "limb timeline viewed", patient=shown.patient, subject=shown.patient)
    return render(
        request,
        "timeline/timeline.html",
        {
            "shown": shown,
            "data": drawn(shown.years),
            "figures": figures_of(shown.years),
            "limbs": limbs_of(shown.years, shown.recordings),
            "names": NAMES.values(),
        },
    )


@never_cache
@require_safe
def table(request, patient_id: int) -> HttpResponse:
    """The timeline's rows as CSV; leaving the service with them is a line of its own in the trail."""
    shown = queries.timeline_page(request.person, patient_id)
    record_view(
        request.person, "limb timeline table taken as CSV", patient=shown.patient, subject=shown.patient
    )
    return HttpResponse(
        as_csv(shown.years),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="limb-timeline-{shown.patient.pk}.csv"'},
    )
