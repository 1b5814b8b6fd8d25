from django.urls import path

from exams.patients import views

app_name = "patients"

urlpatterns = [
    path("", views.people, name="list"),
    path("new/", views.new, name="new"),
    path("<int:patient_id>/change/", views.change, name="change"),
    path("<int:patient_id>/identifiers/", views.add_identifier, name="add_identifier"),
    path(
        "<int:patient_id>/identifiers/<int:identifier_id>/withdraw/",
        views.withdraw_identifier,
        name="withdraw_identifier",
    ),
    path("<int:patient_id>/cautions/", views.cautions, name="cautions"),
    path(
        "<int:patient_id>/cautions/<int:caution_id>/still-true/",
        views.caution_still_true,
        name="caution_still_true",
    ),
    path("<int:patient_id>/cautions/<int:caution_id>/end/", views.end_caution, name="end_caution"),
    path("<int:patient_id>/facts/", views.facts, name="facts"),
    path("<int:patient_id>/facts/<int:fact_id>/correct/", views.correct_fact, name="correct_fact"),
    path("<int:patient_id>/facts/<int:fact_id>/end/", views.end_fact, name="end_fact"),
    path("<int:patient_id>/facts/<int:fact_id>/withdraw/", views.withdraw_fact, name="withdraw_fact"),
]
