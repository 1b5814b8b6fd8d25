from django.apps import AppConfig


class FollowUpConfig(AppConfig):
    name = "exams.followup"
    label = "followup"
    default_auto_field = "django.db.models.BigAutoField"
