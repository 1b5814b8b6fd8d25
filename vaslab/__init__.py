"""The site: it knows every room, and no room knows it."""

from vaslab.celery import app as celery_app

__all__ = ["celery_app"]
