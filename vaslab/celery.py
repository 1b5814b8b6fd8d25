"""The worker: `celery -A vaslab worker`. VASLAB_BROKER_URL decides which broker carries the messages."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "vaslab.settings")

app = Celery("vaslab")
app.config_from_object("vaslab.queue")
app.autodiscover_tasks()
