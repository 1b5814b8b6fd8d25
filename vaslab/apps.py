from django.apps import AppConfig
from django.conf import settings

from vaslab import checks


class VaslabConfig(AppConfig):
    name = "vaslab"
    verbose_name = "vaslab"

    def ready(self) -> None:
        checks.stop_if_unsafe(settings)
