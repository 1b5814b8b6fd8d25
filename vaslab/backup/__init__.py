"""A whole service in a folder, and out of it again: every row, every file, and the proof that none changed.

The folder holds ``rows/<table>.jsonl.gz`` (the columns, then a line a row), ``files/<SHA-256>`` (each stored
file once), ``files.jsonl.gz`` (which name has which sum), and last of all ``manifest.json`` with its seal.
Where a key is set, all but the manifest is encrypted, and files have names made with that key (``box.py``).
It belongs to no database: what SQLite kept, PostgreSQL takes, and the other way round.
"""

from vaslab.backup.keeping import keep
from vaslab.backup.manifest import BackupRefused, Manifest
from vaslab.backup.restoring import check, restore

__all__ = ["BackupRefused", "Manifest", "check", "keep", "restore"]
