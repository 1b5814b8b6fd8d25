from django.apps import AppConfig


class VisitsConfig(AppConfig):
    name = "exams.visits"
    label = "visits"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # What a pressure means hangs on facts of the limb: the room below tells when one has changed.
        from exams.patients.services import on_limb_changed
        from exams.visits.services import reinterpret_latest

        on_limb_changed(reinterpret_latest)
