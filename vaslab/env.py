"""Every environment variable the service reads, in one place. `docs/environment.md` lists them in words.

A value that cannot be used stops the start with the variable's name; nothing falls back silently.
"""

import secrets
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import environ
from django.core.exceptions import ImproperlyConfigured

HOUSE = Path(__file__).resolve().parent.parent
_read = environ.Env()


def _number(name: str, default: float, least: float) -> float:
    try:
        value = _read.float(name, default=default)
    except ValueError:
        raise ImproperlyConfigured(f"{name} must be a number, not {_read.str(name)!r}.") from None
    if value < least:
        raise ImproperlyConfigured(f"{name} must be at least {least:g}, not {value:g}.")
    return value


def _switch(name: str, default: bool) -> bool:
    words = _read.str(name, default="1" if default else "0").strip().lower()
    if words in {"1", "true", "yes", "on"}:
        return True
    if words in {"0", "false", "no", "off", ""}:
        return False
    raise ImproperlyConfigured(f"{name} must be 1 or 0, not {words!r}.")


def _own_secret(folder: Path) -> str:
    """The demo's secret, made at random on its first start and kept in a file only its owner may read."""
    kept = folder / "secret_key"
    if not kept.exists():
        folder.mkdir(parents=True, exist_ok=True)
        kept.touch(mode=0o600)
        kept.write_text(secrets.token_urlsafe(48), encoding="ascii")
    return kept.read_text(encoding="ascii").strip()


def _from_file(name: str) -> str:
    """What stands in the file that the variable ``name`` points to, empty where it points nowhere.

    So a password stays out of the environment, which every child process and many a fault report shows.
    """
    place = _read.str(name, default="")
    if not place:
        return ""
    try:
        return Path(place).read_text(encoding="utf-8").strip()
    except OSError as error:
        raise ImproperlyConfigured(f"{name}: the file cannot be read: {error.strerror}.") from None


def _secret() -> str:
    given = _read.str("VASLAB_SECRET_KEY", default="") or _from_file("VASLAB_SECRET_KEY_FILE")
    if given:
        return given
    if DEMO:
        return _own_secret(DATA_DIR)
    raise ImproperlyConfigured(
        "VASLAB_SECRET_KEY is not set. Give it a long random text, or name a file that holds one in "
        "VASLAB_SECRET_KEY_FILE."
    )


def _database() -> dict[str, Any]:
    address = _read.str("VASLAB_DATABASE_URL", default="")
    if not address:
        return {}
    parts = environ.Env.db_url_config(address)
    if parts.get("ENGINE") != "django.db.backends.postgresql":
        raise ImproperlyConfigured("VASLAB_DATABASE_URL must begin with postgres:// (unset, SQLite is used).")
    return {**parts, "PASSWORD": _from_file("VASLAB_DATABASE_PASSWORD_FILE") or parts["PASSWORD"]}


def _files_store() -> dict[str, Any]:
    """The options of django-storages for an S3-compatible store; empty where files stay in a folder."""
    address = _read.str("VASLAB_FILES_URL", default="")
    if not address:
        return {}
    parts = urlsplit(address)
    bucket = parts.path.strip("/")
    if parts.scheme not in ("s3", "s3+http") or not parts.hostname or not bucket or "/" in bucket:
        raise ImproperlyConfigured("VASLAB_FILES_URL must be s3://HOST/BUCKET, or s3+http:// without TLS.")
    from botocore.config import Config  # not at the top: most installations keep files in a folder

    plain = parts.scheme == "s3+http"
    host = parts.hostname if parts.port is None else f"{parts.hostname}:{parts.port}"
    return {
        "bucket_name": bucket,
        "endpoint_url": f"{'http' if plain else 'https'}://{host}",
        "access_key": _read.str("VASLAB_FILES_KEY", default="") or None,
        "secret_key": _from_file("VASLAB_FILES_SECRET_FILE") or None,
        "region_name": _read.str("VASLAB_FILES_REGION", default="") or None,
        "default_acl": "private",
        # Every name holds random letters of its own; should one be taken all the same, nothing is replaced.
        "file_overwrite": False,
        "client_config": Config(
            s3={"addressing_style": "path"},
            signature_version="s3v4",
            # A store that is away is said within seconds, not after minutes of trying.
            connect_timeout=5,
            read_timeout=30,
            retries={"total_max_attempts": 2},
        ),
    }


def _backup_key() -> bytes | None:
    """The key of the backups, 32 bytes; None where they are written as they are."""
    text = _from_file("VASLAB_BACKUP_KEY_FILE")
    if not text:
        return None
    try:
        key = bytes.fromhex(text)
    except ValueError:
        key = b""
    if len(key) != 32:
        raise ImproperlyConfigured("VASLAB_BACKUP_KEY_FILE: the file must hold 64 hexadecimal digits.")
    return key


DEMO = _switch("VASLAB_DEMO", default=False)
DEBUG = _switch("VASLAB_DEBUG", default=False)
HTTPS = _switch("VASLAB_HTTPS", default=not DEMO)
DATA_DIR = Path(_read.str("VASLAB_DATA_DIR", default=str(HOUSE / "var"))).resolve()
SECRET_KEY = _secret()
OLD_SECRET_KEYS = (
    _read.list("VASLAB_OLD_SECRET_KEYS", default=[]) or _from_file("VASLAB_OLD_SECRET_KEYS_FILE").split()
)
HOSTS = _read.list("VASLAB_HOSTS", default=["[::1]"])
PROXIES = int(_number("VASLAB_PROXIES", default=0, least=0))
DATABASE = _database()
FILES_STORE = _files_store()
BACKUP_KEY = _backup_key()
BROKER_URL = _read.str("VASLAB_BROKER_URL", default="")
WEB_PROCESSES = int(_number("VASLAB_WEB_PROCESSES", default=2, least=1))
WEB_THREADS = int(_number("VASLAB_WEB_THREADS", default=4, least=1))
IDLE_MINUTES = _number("VASLAB_IDLE_MINUTES", default=15, least=1)
SIGN_IN_HOURS = _number("VASLAB_SIGN_IN_HOURS", default=12, least=0.5)
REQUESTS_A_MINUTE = int(_number("VASLAB_REQUESTS_A_MINUTE", default=600, least=10))

JOB_BEAT_SECONDS = _number("VASLAB_JOB_BEAT_SECONDS", default=5, least=0.05)
JOB_LOST_SECONDS = _number("VASLAB_JOB_LOST_SECONDS", default=30, least=0.2)
JOB_WAIT_SECONDS = _number("VASLAB_JOB_WAIT_SECONDS", default=60, least=0.2)
JOB_SWEEP_SECONDS = _number("VASLAB_JOB_SWEEP_SECONDS", default=10, least=0.1)
