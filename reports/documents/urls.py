from django.urls import path

from reports.documents import views

app_name = "documents"

urlpatterns = [
    path("", views.reports, name="list"),
    path("exam/<int:exam_id>/", views.exam, name="exam"),
    path("exam/<int:exam_id>/make/", views.make, name="make"),
    path("<int:document_id>/", views.document, name="document"),
    path("<int:document_id>/pdf/", views.pdf, name="pdf"),
]
