"""The addresses of this room for programs, below api/v1/patients/."""

from django.urls import path

from exams.patients import api

app_name = "patients_api"
urlpatterns = [
    path("", api.Patients.as_view(), name="patients"),
    path("<int:patient_id>/", api.Patient.as_view(), name="patient"),
    path("<int:patient_id>/identifiers/", api.Identifiers.as_view(), name="identifiers"),
    path("<int:patient_id>/identifiers/<int:identifier_id>/", api.Identifier.as_view(), name="identifier"),
    path(
        "<int:patient_id>/identifiers/<int:identifier_id>/withdraw/",
        api.IdentifierWithdrawal.as_view(),
        name="identifier_withdrawal",
    ),
    path("<int:patient_id>/cautions/", api.Cautions.as_view(), name="cautions"),
    path("<int:patient_id>/cautions/<int:caution_id>/", api.Caution.as_view(), name="caution"),
    path("<int:patient_id>/limb-facts/", api.Facts.as_view(), name="facts"),
    path("<int:patient_id>/limb-facts/<int:fact_id>/", api.Fact.as_view(), name="fact"),
    path("<int:patient_id>/limb-facts/<int:fact_id>/end/", api.FactEnd.as_view(), name="fact_end"),
    path(
        "<int:patient_id>/limb-facts/<int:fact_id>/withdraw/",
        api.FactWithdrawal.as_view(),
        name="fact_withdrawal",
    ),
]
