"""The addresses of this room for programs, below api/v1/jobs/."""

from django.urls import path

from jobs import api

app_name = "jobs_api"
urlpatterns = [
    path("", api.Jobs.as_view(), name="jobs"),
    path("<int:number>/", api.Job.as_view(), name="job"),
]
