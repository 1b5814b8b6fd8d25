"""The addresses of this room for programs, below api/v1/measures/."""

from django.urls import path

from reports.audit import api

app_name = "audit_api"
urlpatterns = [
    path("", api.Measures.as_view(), name="measures"),
    path("<str:measure>/", api.Measure.as_view(), name="measure"),
]
