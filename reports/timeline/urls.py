"""The addresses of the patient page, the summary, the limb timeline and what can be taken from it."""

from django.urls import path

from reports.timeline import views

app_name = "timeline"

urlpatterns = [
    path("patients/<int:patient_id>/", views.patient, name="patient"),
    path("patients/<int:patient_id>/limbs/", views.summary, name="summary"),
    path("patients/<int:patient_id>/timeline/", views.timeline, name="timeline"),
    path("patients/<int:patient_id>/timeline/two/", views.two_exams, name="two_exams"),
    path("patients/<int:patient_id>/timeline.csv", views.table, name="table"),
    path("patients/<int:patient_id>/timeline-<slug:key>.svg", views.figure, name="figure"),
    path("patients/<int:patient_id>/timeline-<slug:key>.png", views.figure_png, name="figure_png"),
]
