"""Out of a folder into an empty place: looked through first, written whole or not at all, then compared."""

import gzip
import hashlib
import json
import zlib
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

from django.conf import settings
from django.core.files import File
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor

from access import verify
from access.trail import one_act, record
from vaslab.backup import manifest as manifests
from vaslab.backup.box import Box, NotReadable
from vaslab.backup.manifest import FILES, LIST_OF_FILES, ROWS, BackupRefused, Manifest, Table
from vaslab.backup.tables import Mark, Model, columns, label, lines_of, row_from, tables

Tell = Callable[[str], None]


def check(folder: Path, *, unsealed: bool = False, tell: Tell = lambda words: None) -> Manifest:
    """Look through a backup without restoring it.

    Raises
    ------
    BackupRefused
        Naming the first part that is missing, was changed or does not belong.
    """
    manifest = manifests.read(folder, unsealed=unsealed)
    box = _box_of(manifest)
    _look_for_what_does_not_belong(folder, manifest)
    for number, (name, table) in enumerate(manifest.tables.items(), start=1):
        _look_at(folder / ROWS / f"{name}.jsonl.gz", table.sha256)
        tell(f"looked through {number} of {len(manifest.tables)} tables")
    _look_at(folder / LIST_OF_FILES, manifest.list_of_files_sha256)
    for _, digest, _ in _files_listed(folder, box):
        if digest is not None:
            _look_at(folder / FILES / box.name_of(digest), digest, box.sum_of)
    tell(f"looked through {manifest.files} files")
    return manifest


def restore(folder: Path, *, unsealed: bool = False, tell: Tell = lambda words: None) -> Manifest:
    """Bring a backup back into an empty service, and compare every row, every file and the trail with it.

    Raises
    ------
    BackupRefused
        If the backup is not whole or of another version, or this place is not empty. Nothing was kept then.
    """
    manifest = check(folder, unsealed=unsealed, tell=tell)
    box = _box_of(manifest)
    _prepare_database(manifest)
    _refuse_unless_empty()
    copied: list[str] = []
    try:
        _bring_files(folder, box, manifest, copied, tell)
        with transaction.atomic(durable=True):
            for model in tables():
                _bring_table(folder, box, model, manifest.tables[label(model)], tell)
            _go_on_numbering()
            _compare_trail(manifest, tell)
    except BaseException:
        for name in copied:
            default_storage.delete(name)
        raise
    with one_act():
        details = {"made_at": manifest.made_at, "rows": manifest.rows, "files": manifest.files}
        record(None, "restored from a backup", details=details)
    return manifest


def _box_of(manifest: Manifest) -> Box:
    if not manifest.encrypted_with:
        return Box(None)
    box = Box(settings.BACKUP_KEY)
    if box.key_name != manifest.encrypted_with:
        raise BackupRefused(
            f"This backup is encrypted with the key named {manifest.encrypted_with}, and "
            f"{f'here the key {box.key_name} is set' if box.key_name else 'here none is set'}. Name the file "
            "that holds it in VASLAB_BACKUP_KEY_FILE. Without it nobody can read this backup."
        )
    return box


def _look_for_what_does_not_belong(folder: Path, manifest: Manifest) -> None:
    expected = {f"{name}.jsonl.gz" for name in manifest.tables}
    there = {path.name for path in (folder / ROWS).glob("*")}
    if strangers := sorted(there - expected):
        raise BackupRefused(f"{ROWS}/{strangers[0]} does not belong to this backup. Nothing was restored.")


def _look_at(path: Path, expected: str, sum_of: Callable[[Path], str] = manifests.sum_of) -> None:
    shown = f"{path.parent.name}/{path.name}" if path.parent.name in (ROWS, FILES) else path.name
    if not path.is_file():
        raise BackupRefused(f"{shown} is missing from this backup. Nothing was restored; take another.")
    try:
        found = sum_of(path)
    except NotReadable:
        found = ""
    if found != expected:
        raise BackupRefused(f"{shown} was changed since the backup was made. Nothing was restored.")


def _prepare_database(manifest: Manifest) -> None:
    known = {f"{app}.{name}" for app, name in MigrationExecutor(connection).loader.disk_migrations}
    if known != set(manifest.migrations):
        other = sorted(known ^ set(manifest.migrations))
        raise BackupRefused(
            f"This backup was made by version {manifest.version} with other tables (first difference: "
            f"{other[0]}). Restore it with that version, then go on to this one and migrate."
        )
    call_command("migrate", verbosity=0)


def _refuse_unless_empty() -> None:
    for model in tables():
        if model._base_manager.exists():
            raise BackupRefused(
                f"This place is not empty: there are rows in {label(model)}. Restore into a new database and "
                "an empty folder of files; nothing was changed here."
            )


def _bring_files(folder: Path, box: Box, manifest: Manifest, copied: list[str], tell: Tell) -> None:
    for name, digest, _ in _files_listed(folder, box):
        if digest is None:
            tell(f"MISSING in the backup as it was in the service: {name}")
            continue
        if default_storage.exists(name):
            raise BackupRefused(
                f"There is a file {name} here already. Restore into an empty folder of files."
            )
        with box.whole(folder / FILES / box.name_of(digest)) as file:
            kept = default_storage.save(name, File(file))
        copied.append(kept)
        if kept != name or _sum_of_stored(kept) != digest:
            raise BackupRefused(f"The file {name} did not arrive as it was sent. Nothing was restored.")
        if len(copied) % 1000 == 0:
            tell(f"files: {len(copied)} of {manifest.files}")
    tell(f"files: {len(copied)} of {manifest.files}, each compared")


def _sum_of_stored(name: str) -> str:
    digest = hashlib.sha256()
    with default_storage.open(name, "rb") as file:
        while chunk := file.read(1 << 20):
            digest.update(chunk)
    return digest.hexdigest()


def _bring_table(folder: Path, box: Box, model: Model, table: Table, tell: Tell) -> None:
    fields = columns(model)
    lines = _lines_of(box, folder / ROWS / f"{label(model)}.jsonl.gz")
    if json.loads(next(lines)) != [field.attname for field in fields]:
        raise BackupRefused(f"The table {label(model)} has other columns here. Nothing was restored.")
    most = max(1, min(connection.ops.bulk_batch_size(fields, [None] * 500), 500))
    done = 0
    while rows := [row_from(model, line) for line in islice(lines, most)]:
        # As they stood: no default, no "now" and no signal may touch a restored row.
        model._base_manager._insert(  # type: ignore[attr-defined]
            rows, fields=fields, using=connection.alias, raw=True
        )
        done += len(rows)
        if done // 100_000 > (done - len(rows)) // 100_000:
            tell(f"{label(model)}: {done} of {table.rows} rows")
    mark = Mark(model)
    for line in lines_of(model):
        mark.add(line)
    if (mark.rows, str(mark)) != (table.rows, table.mark):
        raise BackupRefused(
            f"The rows of {label(model)} are not those of the backup ({mark.rows} of {table.rows}). Nothing "
            "was restored."
        )
    tell(f"{label(model)}: {mark.rows} rows, each compared")


def _go_on_numbering() -> None:
    """New rows get numbers above the restored ones."""
    for statement in connection.ops.sequence_reset_sql(no_style(), tables()):
        with connection.cursor() as cursor:
            cursor.execute(statement)


def _compare_trail(manifest: Manifest, tell: Tell) -> None:
    for result in verify.verify_all():
        if not result.whole:
            chain = "the service" if result.clinic_id is None else f"clinic {result.clinic_id}"
            raise BackupRefused(
                f"The trail of {chain} is broken at row {result.broken_at}: {result.fault} Nothing was "
                "restored."
            )
    heads = [(str(clinic or ""), number, mark) for clinic, number, mark in verify.heads()]
    if heads != manifest.trail:
        raise BackupRefused("The trail does not end where it ended in the backup. Nothing was restored.")
    tell(f"trail: {len(heads)} chains, unbroken, and ending where they ended")


def _files_listed(folder: Path, box: Box) -> Iterator[tuple[str, str | None, int]]:
    for line in _lines_of(box, folder / LIST_OF_FILES):
        name, digest, size = json.loads(line)
        yield name, digest, size


def _lines_of(box: Box, path: Path) -> Iterator[str]:
    try:
        with box.out_of(path) as part, gzip.open(part, "rt", encoding="utf-8") as file:
            yield from file
    except (OSError, EOFError, zlib.error):
        raise BackupRefused(f"{path.name} cannot be read. Nothing was restored.") from None
