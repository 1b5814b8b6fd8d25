from django.apps import AppConfig


class TracesConfig(AppConfig):
    name = "exams.traces"
    label = "traces"
    default_auto_field = "django.db.models.BigAutoField"
