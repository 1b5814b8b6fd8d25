"""The access room: people, clinics, roles, sign-in and the trail."""

from django.apps import AppConfig


class AccessConfig(AppConfig):
    name = "access"
    verbose_name = "People and access"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from access import checks, signals  # noqa: F401  (both register themselves on import)

        checks.refuse_to_start_without_second_factor()
