from django.urls import path

from exams.followup import views

app_name = "followup"

urlpatterns = [
    path("referrals/", views.referral_list, name="referrals"),
    path("referrals/<int:referral_id>/", views.referral, name="referral"),
    path("referrals/<int:referral_id>/refer/", views.refer_step, name="refer_step"),
    path("referrals/<int:referral_id>/answer/", views.answer, name="answer"),
    path("recall-list/", views.recall_list, name="recall_list"),
    path("recalls/<int:recall_id>/", views.recall, name="recall"),
    path("recalls/<int:recall_id>/contact/", views.contact, name="contact"),
    path("recalls/<int:recall_id>/seen/", views.seen, name="seen"),
    path("recalls/<int:recall_id>/end/", views.end_recall, name="end_recall"),
    path("promises/<int:promise_id>/keep/", views.keep_promise, name="keep_promise"),
    path("promises/<int:promise_id>/call-off/", views.call_off_promise, name="call_off_promise"),
    path("patients/<int:patient_id>/", views.patient, name="patient"),
    path("patients/<int:patient_id>/refer/", views.refer, name="refer"),
    path("patients/<int:patient_id>/refer/<str:side>/", views.refer, name="refer"),
    path("patients/<int:patient_id>/recall/", views.plan_recall, name="plan_recall"),
    path("patients/<int:patient_id>/promise/", views.promise, name="promise"),
    path("targets/", views.targets, name="targets"),
]
