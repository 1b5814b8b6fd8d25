"""What a backup says of itself, and the seal by which a change of it is found."""

import hashlib
import hmac
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

FORMAT = 1
MANIFEST, SEAL, ROWS, FILES, LIST_OF_FILES = (
    "manifest.json",
    "manifest.seal",
    "rows",
    "files",
    "files.jsonl.gz",
)


class BackupRefused(Exception):
    """In words for whoever typed the command: what is wrong, and what to do."""


@dataclass(frozen=True)
class Table:
    """One table: its rows, their mark in any order, and the sum of its file."""

    rows: int
    mark: str
    sha256: str


@dataclass(frozen=True)
class Manifest:
    format: int
    version: str
    made_at: str
    migrations: list[str]
    tables: dict[str, Table]
    files: int
    missing_files: int
    list_of_files_sha256: str
    # Clinic's number ("" for the service's own chain), number of the last row and its hash.
    trail: list[tuple[str, int, str]]
    holds: list[str]
    holds_not: list[str]
    # The name of the key; empty where nothing is encrypted. This page itself never is: it tells of nobody.
    encrypted_with: str = ""

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())


def migrations_applied() -> list[str]:
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def write(folder: Path, manifest: Manifest) -> None:
    text = json.dumps(asdict(manifest), indent=1, sort_keys=True)
    (folder / SEAL).write_text(_seal(text, settings.SECRET_KEY), encoding="ascii")
    # Last and at once: without it a backup broken off halfway is none.
    part = folder / (MANIFEST + ".part")
    part.write_text(text, encoding="utf-8")
    part.replace(folder / MANIFEST)


def read(folder: Path, *, unsealed: bool = False) -> Manifest:
    """What the backup in this folder says of itself.

    Raises
    ------
    BackupRefused
        If it is no whole backup, of another format, or its seal is not ours (``unsealed``: not asked for).
    """
    try:
        text = (folder / MANIFEST).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise BackupRefused(
            f"{folder} holds no {MANIFEST}: it is no backup, or one that was broken off. Take another."
        ) from None
    if not unsealed:
        _look_at_seal(folder, text)
    try:
        said = json.loads(text)
        if said["format"] != FORMAT:
            raise BackupRefused(
                f"This backup is of format {said['format']}; this version reads format {FORMAT}. "
                f"Restore it with version {said['version']}."
            )
        tables = {name: Table(**table) for name, table in said.pop("tables").items()}
        trail = [(chain, number, mark) for chain, number, mark in said.pop("trail")]
        return Manifest(**said, tables=tables, trail=trail)
    except (ValueError, KeyError, TypeError, AttributeError):
        raise BackupRefused(f"{MANIFEST} cannot be read: it was changed. Take another backup.") from None


def sum_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _look_at_seal(folder: Path, text: str) -> None:
    seal = folder / SEAL
    found = seal.read_text(encoding="ascii", errors="replace").strip() if seal.exists() else ""
    if not any(
        hmac.compare_digest(found.encode(), _seal(text, str(key)).encode())
        for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    ):
        raise BackupRefused(
            f"{MANIFEST} is not as it was sealed: it was changed, or made under another VASLAB_SECRET_KEY. "
            "Give that key in VASLAB_OLD_SECRET_KEYS. Only if it is lost and you trust this folder, add "
            "--unsealed."
        )


def _seal(text: str, key: str) -> str:
    own = hashlib.sha256(b"vaslab backup:" + key.encode()).digest()
    return hmac.new(own, text.encode(), "sha256").hexdigest()
