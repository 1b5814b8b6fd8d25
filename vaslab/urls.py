"""Every page's address. A room keeps its own list; this file only says where it hangs."""

from django.urls import include, path
from drf_spectacular.views import SpectacularJSONAPIView

from vaslab import about, health, today

urlpatterns = [
    path("", today.today, name="today"),
    path("health", health.health, name="health"),
    path("ready", health.ready, name="ready"),
    path("about/", about.about, name="about"),
    path("api/v1/schema/", SpectacularJSONAPIView.as_view(), name="schema"),
    path("api/v1/patients/", include("exams.patients.api_urls")),
    path("api/v1/", include("exams.visits.api_urls")),
    path("api/v1/", include("reports.documents.api_urls")),
    path("api/v1/measures/", include("reports.audit.api_urls")),
    path("api/v1/jobs/", include("jobs.api_urls")),
    path("api/v1/", include("exams.wounds.api_urls")),
    path("api/v1/", include("exams.followup.api_urls")),
    path("api/v1/traces/", include("exams.traces.api_urls")),
    path("accounts/", include("allauth.urls")),
    path("people/", include("access.urls")),
    path("jobs/", include("jobs.urls")),
    path("patients/", include("exams.patients.urls")),
    path("exams/", include("exams.visits.urls")),
    path("traces/", include("exams.traces.urls")),
    path("wounds/", include("exams.wounds.urls")),
    path("identity/", include("exams.identity.urls")),
    path("follow-up/", include("exams.followup.urls")),
    path("", include("reports.timeline.urls")),
    path("reports/", include("reports.documents.urls")),
    path("audit/", include("reports.audit.urls")),
    path("tables/", include("reports.exchange.urls")),
    path("letters/", include("reports.letters.urls")),
]

handler400 = "vaslab.errors.bad_request"
handler403 = "vaslab.errors.refused"
handler404 = "vaslab.errors.not_found"
handler500 = "vaslab.errors.failed"
