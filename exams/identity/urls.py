from django.urls import path

from exams.identity import views

app_name = "identity"

urlpatterns = [
    path("duplicates/", views.duplicates, name="duplicates"),
    path("records/<int:patient_id>/", views.record, name="record"),
    path("records/<int:patient_id>/with/<int:other>/", views.compare, name="compare"),
    path("records/<int:patient_id>/with/<int:other>/different/", views.different, name="different"),
    path("merges/<int:merge_id>/", views.merge, name="merge"),
    path("exams/<int:exam_id>/", views.wrong_person, name="wrong_person"),
    path("exams/<int:exam_id>/part/", views.exam_part, name="exam_part"),
]
