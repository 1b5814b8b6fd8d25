from django.apps import AppConfig


class WoundsConfig(AppConfig):
    name = "exams.wounds"
    label = "wounds"
    default_auto_field = "django.db.models.BigAutoField"
