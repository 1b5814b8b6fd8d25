"""The addresses of this room for programs, below api/v1/."""

from django.urls import path

from exams.visits import api

app_name = "visits_api"
urlpatterns = [
    path("exams/", api.Exams.as_view(), name="exams"),
    path("exams/<int:exam_id>/", api.Exam.as_view(), name="exam"),
    path("exams/<int:exam_id>/steps/", api.Step.as_view(), name="step"),
    path("exams/<int:exam_id>/conditions/", api.Condition.as_view(), name="condition"),
    path("exams/<int:exam_id>/readings/", api.ExamReadings.as_view(), name="exam_readings"),
    path("exams/<int:exam_id>/findings/", api.ExamFindings.as_view(), name="exam_findings"),
    path("readings/", api.Readings.as_view(), name="readings"),
    path("readings/<int:reading_id>/", api.Reading.as_view(), name="reading"),
    path("readings/<int:reading_id>/withdraw/", api.ReadingWithdrawal.as_view(), name="reading_withdrawal"),
    path("findings/", api.Findings.as_view(), name="findings"),
]
