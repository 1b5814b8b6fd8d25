"""Refuses to start in a state that would be unsafe (ids vaslab.E001 …)."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register

_THIS_MACHINE = {"localhost", "127.0.0.1", "[::1]", "testserver"}


@register(Tags.security)
def safe_to_start(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    found: list[CheckMessage] = []
    elsewhere = [host for host in settings.ALLOWED_HOSTS if host not in _THIS_MACHINE]
    if not settings.SECOND_FACTOR_REQUIRED and elsewhere:
        found.append(
            Error(
                "The demo's sign-in without a second factor is on, but the service answers to "
                f"{', '.join(elsewhere)}.",
                hint="Unset VASLAB_DEMO, or leave VASLAB_HOSTS at this machine's own names.",
                id="vaslab.E001",
            )
        )
    if settings.DEBUG and elsewhere:
        found.append(
            Error(
                f"Debug pages are on, but the service answers to {', '.join(elsewhere)}.",
                hint="Unset VASLAB_DEBUG: a debug page shows what was typed to whoever opens it.",
                id="vaslab.E002",
            )
        )
    if not settings.DEMO and len(settings.SECRET_KEY) < 40:
        found.append(
            Error(
                "VASLAB_SECRET_KEY is shorter than 40 characters.",
                hint="Make one with: python3 -c 'import secrets; print(secrets.token_urlsafe(48))'",
                id="vaslab.E003",
            )
        )
    if settings.JOB_LOST_AFTER < 2 * settings.JOB_BEAT:
        found.append(
            Error(
                "A working job would be taken for lost between two of its beats.",
                hint="Make VASLAB_JOB_LOST_SECONDS at least twice VASLAB_JOB_BEAT_SECONDS.",
                id="vaslab.E004",
            )
        )
    return found
