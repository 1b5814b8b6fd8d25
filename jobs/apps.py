from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class JobsConfig(AppConfig):
    name = "jobs"
    verbose_name = "Jobs"

    def ready(self) -> None:
        # Every room's tasks.py names its kinds of job; the web process needs to know them too.
        autodiscover_modules("tasks")
