from django.apps import AppConfig


class FollowUpConfig(AppConfig):
    name = "exams.followup"
    label = "followup"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # The rooms below tell of what they record; nothing there knows who listens.
        from exams.followup.services import follow_events, follow_exam, follow_life
        from exams.patients.services import on_life_changed, on_limb_changed
        from exams.visits.services import on_exam_finished

        on_limb_changed(follow_events)
        on_life_changed(follow_life)
        on_exam_finished(follow_exam)
