from django.apps import AppConfig


class DocumentsConfig(AppConfig):
    name = "reports.documents"
    label = "documents"
    default_auto_field = "django.db.models.BigAutoField"
