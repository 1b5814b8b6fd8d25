"""A printed file in the store: kept once, and handed out only if it is still what was printed."""

import hashlib
from collections.abc import Callable
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db.models.fields.files import FieldFile


def store_once(start: str, data: bytes, keep: Callable[[str], bool]) -> None:
    """Store ``data`` as a PDF and have its name kept; it is gone again where ``keep`` says no, or fails.

    A name of its own for every attempt: a worker killed while writing leaves a stray file, no half document.
    """
    name = default_storage.save(f"{start}-{uuid4().hex}.pdf", ContentFile(data))
    try:
        kept = keep(name)
    except BaseException:
        default_storage.delete(name)
        raise
    if not kept:
        default_storage.delete(name)


def as_printed(pdf: FieldFile, sha256: str) -> bytes | None:
    """The stored bytes; None where they are gone or are not those that were printed."""
    try:
        with pdf.open("rb") as file:
            data: bytes = file.read()
    except FileNotFoundError:
        return None
    return data if hashlib.sha256(data).hexdigest() == sha256 else None
