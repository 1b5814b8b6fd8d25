"""What must be right before the service starts."""

from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register
from django.core.exceptions import ImproperlyConfigured
from django.urls import URLPattern, URLResolver, get_resolver

from access.matrix import Matrix, matrix


def refuse_to_start_without_second_factor() -> None:
    """Only the demo may leave the second factor out.

    Raises
    ------
    ImproperlyConfigured
        If the second factor is switched off outside the demo. Raised while loading, not as a check: a web
        server does not run the checks.
    """
    if not settings.SECOND_FACTOR_REQUIRED and not settings.DEMO:
        raise ImproperlyConfigured(
            "The second factor may be left out in the demo only. Set VASLAB_DEMO=1 for a demo with invented "
            "people, or take the second factor back into use."
        )


@register
def role_matrix_is_whole(**kwargs: Any) -> list[CheckMessage]:
    """Every URL is in the matrix exactly once, and everything in the matrix exists."""
    return matrix_errors(matrix(), list(url_names()))


def matrix_errors(the_matrix: Matrix, names: list[str | None]) -> list[CheckMessage]:
    """What is wrong between the matrix and the URLs that exist (``None`` stands for a URL without a name)."""
    errors: list[CheckMessage] = [Error(fault, id="access.E001") for fault in the_matrix.faults]
    for name in sorted(set(names) - {None} - set(the_matrix.urls), key=str):
        errors.append(
            Error(
                f"The URL “{name}” is not in the role matrix, so nobody can open it.",
                hint=f'Add [urls."{name}"] to the roles.toml of its room.',
                id="access.E002",
            )
        )
    for name in sorted(set(the_matrix.urls) - set(names)):
        errors.append(
            Error(f"The role matrix lists the URL “{name}”, which does not exist.", id="access.E003")
        )
    if None in names:
        errors.append(
            Error("A URL without a name cannot be in the role matrix. Give it one.", id="access.E004")
        )
    return errors


def url_names() -> Iterator[str | None]:
    """The full names of all URLs ("room:page"), None for one without a name."""
    yield from _names_under(get_resolver(), ())


def _names_under(resolver: URLResolver, spaces: tuple[str, ...]) -> Iterator[str | None]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _names_under(entry, (*spaces, entry.namespace) if entry.namespace else spaces)
        elif isinstance(entry, URLPattern):
            yield ":".join((*spaces, entry.name)) if entry.name else None
