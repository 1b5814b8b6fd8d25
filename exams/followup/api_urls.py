"""The addresses of this room for programs, below api/v1/."""

from django.urls import path

from exams.followup import api

app_name = "followup_api"
urlpatterns = [
    path("referrals/", api.Referrals.as_view(), name="referrals"),
    path("referrals/<int:referral_id>/", api.Referral.as_view(), name="referral"),
    path("referrals/<int:referral_id>/steps/", api.ReferringStep.as_view(), name="step"),
    path("referrals/<int:referral_id>/answers/", api.AnsweringStep.as_view(), name="answer"),
    path("patients/<int:patient_id>/referrals/", api.PatientReferrals.as_view(), name="patient_referrals"),
]
