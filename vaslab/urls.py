"""Every page's address. A room keeps its own list; this file only says where it hangs."""

import sys
from importlib import import_module

from django.urls import include, path

from vaslab import about, health

ROOMS = [
    ("people/", "access.urls"),
    ("jobs/", "jobs.urls"),
    ("patients/", "exams.patients.urls"),
    ("exams/", "exams.visits.urls"),
    ("", "reports.timeline.urls"),
    ("reports/", "reports.documents.urls"),
]


def _is_there(module: str) -> bool:  # goes when every room stands
    try:
        import_module(module)
    except ImportError as error:
        print(f"ROOM LEFT OUT {module}: {error}", file=sys.stderr)  # noqa: T201
        return False
    return True


urlpatterns = [
    path("health", health.health, name="health"),
    path("about/", about.about, name="about"),
    path("accounts/", include("allauth.urls")),
    *[path(prefix, include(module)) for prefix, module in ROOMS if _is_there(module)],
]
if _is_there("vaslab.today"):
    from vaslab import today

    urlpatterns.insert(0, path("", today.today, name="today"))

handler400 = "vaslab.errors.bad_request"
handler403 = "vaslab.errors.refused"
handler404 = "vaslab.errors.not_found"
handler500 = "vaslab.errors.failed"
