from django.apps import AppConfig


class TimelineConfig(AppConfig):
    name = "reports.timeline"
    label = "timeline"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # What is kept of a record counts no more once an act has changed the record.
        from access.trail import on_change
        from reports.timeline.keeping import mark_changed

        on_change(mark_changed)
