from django.apps import AppConfig


class VisitsConfig(AppConfig):
    name = "exams.visits"
    label = "visits"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # What a pressure means hangs on facts of the limb: the room below tells when one has changed.
        from exams.patients.services import on_life_asked, on_limb_changed
        from exams.visits.queries.lived import exams_lived
        from exams.visits.services import reinterpret_latest

        on_limb_changed(reinterpret_latest)
        # No birth after an exam, and no death before one.
        on_life_asked(exams_lived)
