"""The addresses of this room for programs, below api/v1/."""

from django.urls import path

from exams.wounds import api

_PHOTOGRAPH = "patients/<int:patient_id>/photographs/<int:photograph_id>/"
_WOUND = "patients/<int:patient_id>/wounds/<int:wound_id>/"

app_name = "wounds_api"
urlpatterns = [
    path("wounds/", api.Wounds.as_view(), name="wounds"),
    path("patients/<int:patient_id>/wounds/", api.PatientWounds.as_view(), name="patient_wounds"),
    path(_WOUND, api.Wound.as_view(), name="wound"),
    path(f"{_WOUND}close/", api.WoundEnd.as_view(), name="close"),
    path(f"{_WOUND}assessments/", api.Assessments.as_view(), name="assessments"),
    path(f"{_WOUND}assessments/<int:assessment_id>/", api.Assessment.as_view(), name="assessment"),
    path(
        f"{_WOUND}assessments/<int:assessment_id>/withdraw/",
        api.AssessmentWithdrawal.as_view(),
        name="assessment_withdrawal",
    ),
    path(f"{_WOUND}photographs/", api.Photographs.as_view(), name="photographs"),
    path(_PHOTOGRAPH, api.Photograph.as_view(), name="photograph"),
    path(f"{_PHOTOGRAPH}picture/", api.Picture.as_view(), name="picture"),
    path(f"{_PHOTOGRAPH}withdraw/", api.PhotographWithdrawal.as_view(), name="photograph_withdrawal"),
]
