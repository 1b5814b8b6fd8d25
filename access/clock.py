"""The one clock of the service: every stored time comes from here."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime

_fixed: ContextVar[datetime | None] = ContextVar("fixed moment", default=None)


def now() -> datetime:
    """The present moment, aware, in UTC."""
    return _fixed.get() or datetime.now(UTC)


@contextmanager
def at(moment: datetime) -> Iterator[datetime]:
    """Hold the clock at ``moment`` (aware) inside the block, for the demo and for tests.

    Raises
    ------
    ValueError
        If the moment carries no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("The clock can only be held at a moment that carries its time zone.")
    token = _fixed.set(moment.astimezone(UTC))
    try:
        yield moment
    finally:
        _fixed.reset(token)
