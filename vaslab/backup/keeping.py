"""Into a folder: rows as they stood at one moment, then the files these rows name."""

import gzip
import hashlib
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connection, transaction

from access import clock, verify
from access.trail import one_act, record
from vaslab.backup import manifest as manifests
from vaslab.backup.box import Box
from vaslab.backup.manifest import FILES, FORMAT, LIST_OF_FILES, ROWS, BackupRefused, Manifest, Table
from vaslab.backup.tables import SECRETS, Mark, Model, columns, label, lines_of, names_of_files, tables

Tell = Callable[[str], None]

_CHUNK = 1 << 20
_HOLDS = "the whole record of every clinic"
_HOLDS_NOT = [
    "VASLAB_SECRET_KEY, without which second factors cannot be used again: keep it elsewhere",
    "passwords of database, broker and file store, and the key of the backups",
    "who is signed in",
    "files that no row names",
]


def keep(folder: Path, tell: Tell = lambda words: None) -> Manifest:
    """Write a backup, encrypted where ``settings.BACKUP_KEY`` is set. The service may go on meanwhile: what
    is changed later is not in it.

    Raises
    ------
    BackupRefused
        If there is something in the folder already.
    """
    if folder.exists() and any(folder.iterdir()):
        raise BackupRefused(f"{folder} is not empty. Name a new folder for each backup.")
    (folder / ROWS).mkdir(parents=True)
    (folder / FILES).mkdir()
    names: list[str] = []
    box = Box(settings.BACKUP_KEY)
    with _one_moment():
        made_at = clock.now()
        kept = {label(model): _keep_table(folder, box, model, names, tell) for model in tables()}
        trail = [(str(clinic or ""), number, mark) for clinic, number, mark in verify.heads()]
        applied = manifests.migrations_applied()
    missing = _keep_files(folder, box, sorted(set(names)), tell)
    manifest = Manifest(
        format=FORMAT,
        version=settings.VERSION,
        made_at=made_at.isoformat(),
        migrations=applied,
        tables=kept,
        files=len(set(names)) - missing,
        missing_files=missing,
        list_of_files_sha256=manifests.sum_of(folder / LIST_OF_FILES),
        trail=trail,
        encrypted_with=box.key_name,
        holds=[f"{_HOLDS}, {'encrypted' if box.key_name else 'in plain text'}", *SECRETS.values()],
        holds_not=_HOLDS_NOT,
    )
    manifests.write(folder, manifest)
    with one_act():
        record(None, "backup made", details={"rows": manifest.rows, "files": manifest.files})
    return manifest


@contextmanager
def _one_moment() -> Iterator[None]:
    """A transaction that sees the database as it stands now, and keeps nobody from writing."""
    if connection.vendor == "sqlite":
        # IMMEDIATE, as everywhere else, would hold every writer up until the end.
        connection.ensure_connection()  # which reads the mode from the settings
        sqlite: Any = connection
        usual, sqlite.transaction_mode = sqlite.transaction_mode, "DEFERRED"
        try:
            with transaction.atomic(durable=True):
                yield
        finally:
            sqlite.transaction_mode = usual
    else:
        with transaction.atomic(durable=True):
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
            yield


def _keep_table(folder: Path, box: Box, model: Model, names: list[str], tell: Tell) -> Table:
    path, mark = folder / ROWS / f"{label(model)}.jsonl.gz", Mark(model)
    with _lines_into(box, path) as file:
        file.write(_line([field.attname for field in columns(model)]))
        for line in lines_of(model):
            mark.add(line)
            names.extend(names_of_files(model, line))
            file.write(line.encode() + b"\n")
            if mark.rows % 100_000 == 0:
                tell(f"{label(model)}: {mark.rows} rows so far")
    tell(f"{label(model)}: {mark.rows} rows")
    return Table(rows=mark.rows, mark=str(mark), sha256=manifests.sum_of(path))


def _keep_files(folder: Path, box: Box, names: list[str], tell: Tell) -> int:
    """Copy each file under its sum; how many of them are not where their row says."""
    missing = 0
    with _lines_into(box, folder / LIST_OF_FILES) as listed:
        for number, name in enumerate(names, start=1):
            try:
                digest, size = _keep_file(folder, box, name)
            except FileNotFoundError:
                missing += 1
                tell(f"MISSING in the file store, and so in this backup: {name}")
                listed.write(_line([name, None, 0]))
            else:
                listed.write(_line([name, digest, size]))
            if number % 1000 == 0:
                tell(f"files: {number} of {len(names)}")
    tell(f"files: {len(names) - missing} of {len(names)}")
    return missing


def _keep_file(folder: Path, box: Box, name: str) -> tuple[str, int]:
    digest, size, part = hashlib.sha256(), 0, folder / FILES / "part"
    with default_storage.open(name, "rb") as stored, box.into(part) as copy:
        while chunk := stored.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
            copy.write(chunk)
    part.replace(folder / FILES / box.name_of(digest.hexdigest()))
    return digest.hexdigest(), size


@contextmanager
def _lines_into(box: Box, path: Path) -> Iterator[gzip.GzipFile]:
    # Neither name nor time inside, so that the same rows give the same bytes before they are encrypted.
    with box.into(path) as raw, gzip.GzipFile("", "wb", 5, raw, mtime=0) as file:
        yield file


def _line(values: list[object]) -> bytes:
    return json.dumps(values).encode() + b"\n"
