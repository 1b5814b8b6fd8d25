from django.apps import AppConfig


class TimelineConfig(AppConfig):
    name = "reports.timeline"
    label = "timeline"
    default_auto_field = "django.db.models.BigAutoField"
