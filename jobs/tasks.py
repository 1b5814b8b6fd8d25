"""What the broker's messages call. The names are the messages' addresses."""

from celery import shared_task

from jobs import services


@shared_task(name="jobs.run")
def run(number: int) -> None:
    services.run(number)


@shared_task(name="jobs.sweep")
def sweep() -> None:
    services.sweep()
