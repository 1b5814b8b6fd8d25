from django.apps import AppConfig


class PatientsConfig(AppConfig):
    name = "exams.patients"
    label = "patients"
    default_auto_field = "django.db.models.BigAutoField"
