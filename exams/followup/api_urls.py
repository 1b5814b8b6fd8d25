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
    path("recalls/", api.Recalls.as_view(), name="recalls"),
    path("recalls/<int:recall_id>/", api.Recall.as_view(), name="recall"),
    path("recalls/<int:recall_id>/contacts/", api.RecallContact.as_view(), name="recall_contact"),
    path("recalls/<int:recall_id>/seen/", api.RecallSeen.as_view(), name="recall_seen"),
    path("recalls/<int:recall_id>/end/", api.RecallEnd.as_view(), name="recall_end"),
    path("patients/<int:patient_id>/recalls/", api.PatientRecalls.as_view(), name="patient_recalls"),
    path("promises/", api.Promises.as_view(), name="promises"),
    path("promises/<int:promise_id>/", api.Promise.as_view(), name="promise"),
    path("promises/<int:promise_id>/keep/", api.PromiseKeeping.as_view(), name="promise_keeping"),
    path("promises/<int:promise_id>/call-off/", api.PromiseCallingOff.as_view(), name="promise_calling_off"),
    path("patients/<int:patient_id>/promises/", api.PatientPromises.as_view(), name="patient_promises"),
]
