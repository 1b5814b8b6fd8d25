"""The addresses of the patient page and the limb timeline."""

from django.urls import path

from reports.timeline import views

app_name = "timeline"

urlpatterns = [
    path("patients/<int:patient_id>/", views.patient, name="patient"),
    path("patients/<int:patient_id>/timeline/", views.timeline, name="timeline"),
    path("patients/<int:patient_id>/timeline.csv", views.table, name="table"),
]
