from django.urls import path

from exams.wounds import views

app_name = "wounds"

_WOUND = "<int:patient_id>/<int:wound_id>/"
_ASSESSMENT = f"{_WOUND}assessments/<int:assessment_id>/"

urlpatterns = [
    path("<int:patient_id>/", views.patient, name="patient"),
    path("<int:patient_id>/new/", views.new, name="new"),
    path("<int:patient_id>/lost/", views.lost, name="lost"),
    path("<int:patient_id>/outlook/<str:side>/", views.outlook, name="outlook"),
    path("<int:patient_id>/outlook/<str:side>/salvage/", views.salvage, name="salvage"),
    path("<int:patient_id>/photographs/<int:photograph_id>/", views.photograph, name="photograph"),
    path(
        "<int:patient_id>/photographs/<int:photograph_id>/withdraw/",
        views.withdraw_photograph,
        name="withdraw_photograph",
    ),
    path(_WOUND, views.wound, name="wound"),
    path(f"{_WOUND}assess/", views.assess, name="assess"),
    path(f"{_WOUND}close/", views.close, name="close"),
    path(f"{_WOUND}correct/", views.correct, name="correct"),
    path(f"{_WOUND}withdraw/", views.withdraw, name="withdraw"),
    path(f"{_ASSESSMENT}correct/", views.correct_assessment, name="correct_assessment"),
    path(f"{_ASSESSMENT}trace/", views.trace, name="trace"),
    path(f"{_ASSESSMENT}withdraw/", views.withdraw_assessment, name="withdraw_assessment"),
]
