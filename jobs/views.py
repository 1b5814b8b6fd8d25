from urllib.parse import urlsplit

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from django.views.decorators.vary import vary_on_headers
from django_htmx.http import HttpResponseClientRefresh

from jobs import queries, services


@require_safe
def jobs(request: HttpRequest) -> HttpResponse:
    return render(request, "jobs/list.html", {"jobs": queries.recent_jobs(request.person)})


@never_cache
@require_safe
@vary_on_headers("HX-Request")
def state(request: HttpRequest, number: int) -> HttpResponse:
    """The job's state: the part alone where a page polls it, a page of its own otherwise.

    A page that waits for what the job makes of it is loaded again, so that it comes up ready by itself.
    """
    job = queries.job_for(request.person, number)
    opens = (job.result or {}).get("open")
    if request.htmx and opens and urlsplit(request.htmx.current_url or "").path == opens:
        return HttpResponseClientRefresh()
    return render(request, "jobs/_state.html" if request.htmx else "jobs/state.html", {"job": job})


@require_POST
def try_again(request: HttpRequest, number: int) -> HttpResponse:
    job = services.try_again(queries.job_for(request.person, number), by=request.person)
    if request.htmx:
        return render(request, "jobs/_state.html", {"job": job})
    return redirect("jobs:state", job.pk)
