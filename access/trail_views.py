"""The page on which the trail is read and checked."""

from django.http import HttpResponse
from django.shortcuts import render

from access import forms, queries, verify
from access.requests import Request
from access.trail import record_view


def trail(request: Request) -> HttpResponse:
    of_the_service = request.GET.get("chain") == "service"
    form = forms.TrailForm(queries.people_in_trail(request.person, of_the_service), request.GET)
    if not form.is_valid():
        context = {"form": form, "of_the_service": of_the_service}
        return render(request, "access/trail.html", context, status=422)
    found = queries.trail_page(
        request.person,
        of_the_service=of_the_service,
        user=form.cleaned_data["person"],
        day=form.cleaned_data["day"],
        patient_id=form.cleaned_data["patient"],
        older_than=form.cleaned_data["older_than"],
    )
    record_view(request.person, "trail read", patient=form.cleaned_data["patient"])
    older = request.GET.copy()
    older["older_than"] = str(found.older_than)
    context = {
        "form": form,
        "of_the_service": of_the_service,
        "found": found,
        "older": older.urlencode() if found.older_than else "",
    }
    return render(request, "access/trail.html", context)


def verify_trail(request: Request) -> HttpResponse:
    of_the_service = request.POST.get("chain") == "service"
    clinic = queries.chain_read_by(request.person, of_the_service)
    result = verify.verify_chain(clinic.pk if clinic else None)
    record_view(request.person, "trail checked, whole" if result.whole else "trail checked, broken")
    return render(request, "access/trail_verified.html", {"result": result, "clinic": clinic})
