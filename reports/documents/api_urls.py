"""The addresses of this room for programs, below api/v1/."""

from django.urls import path

from reports.documents import api

app_name = "documents_api"
urlpatterns = [
    path("reports/", api.Reports.as_view(), name="reports"),
    path("reports/<int:document_id>/", api.Report.as_view(), name="report"),
    path("reports/<int:document_id>/pdf/", api.ReportPdf.as_view(), name="pdf"),
    path("exams/<int:exam_id>/reports/", api.ExamReports.as_view(), name="exam_reports"),
]
