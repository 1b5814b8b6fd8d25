"""Refuses to start in a state that would be unsafe."""

from collections.abc import Iterator
from typing import Any

from django.core.exceptions import ImproperlyConfigured

_THIS_MACHINE = frozenset({"localhost", "127.0.0.1", "[::1]", "testserver"})


def stop_if_unsafe(settings: Any) -> None:
    """Called while the site loads, not as one of Django's checks: a web server and a worker do not run those.

    Raises
    ------
    ImproperlyConfigured
        Naming everything that is unsafe at once.
    """
    found = list(_unsafe(settings))
    if found:
        raise ImproperlyConfigured(" ".join(found))


def _unsafe(settings: Any) -> Iterator[str]:
    elsewhere = ", ".join(sorted(set(settings.ALLOWED_HOSTS) - _THIS_MACHINE))
    if not settings.SECOND_FACTOR_REQUIRED and elsewhere:
        yield (
            f"The demo is entered without a second factor, so it may not answer to {elsewhere}. "
            "Unset VASLAB_DEMO, or leave VASLAB_HOSTS at this machine's own names."
        )
    if settings.DEBUG and elsewhere:
        yield (
            "Debug pages show what was typed to whoever opens them, so they may not be on while the service "
            f"answers to {elsewhere}. Unset VASLAB_DEBUG."
        )
    if len(settings.SECRET_KEY) < 40:
        yield (
            "VASLAB_SECRET_KEY is shorter than 40 characters. Make one with: "
            "python3 -c 'import secrets; print(secrets.token_urlsafe(48))'."
        )
    if settings.JOB_LOST_AFTER < 2 * settings.JOB_BEAT:
        yield (
            "A working job would be taken for lost between two of its beats. Make VASLAB_JOB_LOST_SECONDS at "
            "least twice VASLAB_JOB_BEAT_SECONDS."
        )
