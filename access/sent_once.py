"""What a program sends twice is done once: the key it sends along, what it sent, and what that made."""

from collections.abc import Callable
from typing import TypeVar

from django.db import IntegrityError, models, transaction

from access.models import KeyUsed
from access.people import Person
from access.refusals import Conflict

Row = TypeVar("Row", bound=models.Model)


def once(
    *, key: str, content_hash: str, by: Person, make: Callable[[], Row], find: Callable[[int], Row]
) -> tuple[Row, bool]:
    """The row that ``make`` makes the first time ``key`` is used, and whether this was the first time.

    Called inside an act, so that key and row are kept together or not at all. Of two at the same instant the
    database lets one in; the other waits for it and finds what it made.

    Parameters
    ----------
    key : the program's own name for what it sends, unique among all it ever sends.
    content_hash : a digest of everything sent, by which a repeat is told from another thing.
    make : makes the row.
    find : finds the row of that number again.

    Raises
    ------
    Conflict
        ``key_used`` if the key came with other content before.
    """
    used, first = _claim(key, content_hash, by)
    if first:
        made = make()
        used.made = made.pk
        used.save(update_fields=["made"])
        return made, True
    if used.content_hash != content_hash or used.made is None:
        raise Conflict(
            "key_used",
            "This Idempotency-Key was sent before, with something else.",
            "Send each new thing with a key of its own. Nothing was changed.",
            field="Idempotency-Key",
        )
    return find(used.made), False


def _claim(key: str, content_hash: str, by: Person) -> tuple[KeyUsed, bool]:
    try:
        with transaction.atomic():
            return KeyUsed.objects.create(user=by.user, key=key, content_hash=content_hash), True
    except IntegrityError:
        return KeyUsed.objects.get(user=by.user, key=key), False
