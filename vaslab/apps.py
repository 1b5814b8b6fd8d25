from django.apps import AppConfig


class VaslabConfig(AppConfig):
    name = "vaslab"
    verbose_name = "vaslab"

    def ready(self) -> None:
        from vaslab import checks  # noqa: F401  (registers the checks; needs the app registry)
