"""Which tables a backup holds, and how a row is written as a line that no database reads differently."""

import base64
import hashlib
import json
from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import models

Model = type[models.Model]

# Made by the migrations, or over with the machine: whoever was signed in there signs in anew.
LEFT_OUT = frozenset(
    {
        "contenttypes.ContentType",
        "auth.Permission",
        "auth.Group_permissions",
        "sessions.Session",
        "usersessions.UserSession",
    }
)

# What could be misused by whoever holds a backup, besides the record itself; a test looks for others.
SECRETS = {
    "access.User.password": "passwords, as slow one-way sums",
    "access.SetPasswordLink.token_hash": "links to set a password, as one-way sums",
    "access.AccessToken.token_hash": "tokens of devices and programs, as one-way sums",
    "access.QueueKey.key": "keys of values that wait in browsers",
    "mfa.Authenticator.data": "second factors, sealed with VASLAB_SECRET_KEY, and public keys of passkeys",
    "audit.Export.salt": "keys that make pseudonyms in exports",
    "audit.Export.link_hash": "links to exports, as one-way sums",
    "account.EmailConfirmation.key": "confirmations of addresses",
}

_MARK_SIZE = 2**256


def tables() -> list[Model]:
    """Every stored table, those of the links between two included, by name."""
    found = apps.get_models(include_auto_created=True)
    return sorted((one for one in found if one._meta.managed and one._meta.label not in LEFT_OUT), key=label)


def label(model: Model) -> str:
    return str(model._meta.label)


def columns(model: Model) -> "list[models.Field[Any, Any]]":
    return [*model._meta.concrete_fields]


def lines_of(model: Model) -> Iterator[str]:
    """Every row of the table as a line, in the order of its key."""
    names = [field.attname for field in columns(model)]
    rows = model._base_manager.order_by("pk").values_list(*names)
    for row in rows.iterator(chunk_size=2000):
        yield json.dumps([_plain(value) for value in row], separators=(",", ":"))


def row_from(model: Model, line: str) -> models.Model:
    """The row that a line tells of, not yet stored."""
    values = json.loads(line)
    fields = columns(model)
    return model(**{one.attname: one.to_python(value) for one, value in zip(fields, values, strict=True)})


def names_of_files(model: Model, line: str) -> list[str]:
    """The stored files that the row of this line names."""
    places = [at for at, field in enumerate(columns(model)) if isinstance(field, models.FileField)]
    values = json.loads(line) if places else []
    return [values[at] for at in places if values[at]]


class Mark:
    """A sum over rows, the same in whatever order they come and the parts of their JSON stand: databases
    sort text differently, and PostgreSQL keeps the parts of JSON in an order of its own."""

    def __init__(self, model: Model) -> None:
        self._has_json = any(isinstance(field, models.JSONField) for field in columns(model))
        self.rows = 0
        self._sum = 0

    def add(self, line: str) -> None:
        self.rows += 1
        if self._has_json:
            line = json.dumps(json.loads(line), sort_keys=True)
        self._sum = (self._sum + int.from_bytes(hashlib.sha256(line.encode()).digest())) % _MARK_SIZE

    def __str__(self) -> str:
        return f"{self._sum:064x}"


def _plain(value: Any) -> Any:
    # To the microsecond, which the usual JSON encoder would cut off.
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, bytes | bytearray | memoryview):
        return base64.b64encode(value).decode()
    return value
