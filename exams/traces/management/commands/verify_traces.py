"""``python manage.py verify_traces``: are the stored recordings still those that were received?"""

import zlib
from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db.models.fields.files import FieldFile

from exams.traces.models import Trace, TracePiece
from exams.traces.samples import checksum


class Command(BaseCommand):
    help = "Compute the checksum of every stored recording again. Exit code 1 if one differs or is gone."

    def handle(self, *args: Any, **options: Any) -> None:
        looked_at = 0
        different: list[str] = []
        for trace in Trace.objects.order_by("pk").iterator(chunk_size=20):
            looked_at += 1
            different += [f"trace {trace.pk}: {what}" for what in _different(trace)]
        for piece in TracePiece.objects.order_by("pk").iterator(chunk_size=200):
            if not _same(bytes(piece.samples), piece.samples_sha256):
                different.append(f"trace {piece.trace_id}: piece {piece.number} was changed")
        for line in different:
            self.stdout.write(line)
        self.stdout.write(f"{looked_at} recordings looked at, {len(different)} differences.")
        if different:
            raise CommandError("Stored recordings are not those that were received.", returncode=1)


def _different(trace: Trace) -> Iterator[str]:
    if trace.original:
        yield from _file("its file", trace.original, trace.original_sha256)
    if trace.samples is not None and not _same(bytes(trace.samples), trace.samples_sha256):
        yield "its samples were changed"


def _file(what: str, stored: FieldFile, expected: str) -> Iterator[str]:
    try:
        with stored.open("rb") as file:
            content = file.read()
    except FileNotFoundError:
        yield f"{what} is gone"
        return
    if checksum(content) != expected:
        yield f"{what} was changed"


def _same(packed: bytes, expected: str) -> bool:
    try:
        return checksum(zlib.decompress(packed)) == expected
    except zlib.error:
        return False
