from django.apps import AppConfig


class WoundsConfig(AppConfig):
    name = "exams.wounds"
    label = "wounds"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # A death and its undoing decide how an episode came out, and a toe may be measured after its start.
        from access.trail import on_change
        from exams.patients.services import on_life_changed
        from exams.visits.services import on_exam_finished
        from exams.wounds.queries.keeping import mark_changed
        from exams.wounds.services import keep_outcomes, keep_toe_at_start

        # What is kept of an outlook counts no more once an act has changed the record.
        on_change(mark_changed)
        on_life_changed(keep_outcomes)
        on_exam_finished(keep_toe_at_start)
