"""The addresses of this room for programs, below api/v1/."""

from django.urls import path

from exams.visits import api
from exams.visits.further import api as further_api

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
    path("hand-overs/", api.HandOvers.as_view(), name="hand_overs"),
    path("hand-overs/<int:hand_over_id>/", api.HandOver.as_view(), name="hand_over"),
    path("exams/<int:exam_id>/further-tests/", further_api.FurtherTests.as_view(), name="further_tests"),
    path(
        "exams/<int:exam_id>/further-tests/<str:test>/",
        further_api.OneFurtherTest.as_view(),
        name="further_test",
    ),
]
