"""Every environment variable the service reads, in one place. `docs/environment.md` lists them in words.

A value that cannot be used stops the start with the variable's name; nothing falls back silently.
"""

import secrets
from pathlib import Path
from typing import Any

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


def _secret() -> str:
    given = _read.str("VASLAB_SECRET_KEY", default="")
    if given:
        return given
    if DEMO:
        return _own_secret(DATA_DIR)
    raise ImproperlyConfigured("VASLAB_SECRET_KEY is not set. Give it a long random text.")


def _database() -> dict[str, Any]:
    address = _read.str("VASLAB_DATABASE_URL", default="")
    if not address:
        return {}
    parts = environ.Env.db_url_config(address)
    if parts.get("ENGINE") != "django.db.backends.postgresql":
        raise ImproperlyConfigured("VASLAB_DATABASE_URL must begin with postgres:// (unset, SQLite is used).")
    return parts


DEMO = _switch("VASLAB_DEMO", default=False)
DEBUG = _switch("VASLAB_DEBUG", default=False)
HTTPS = _switch("VASLAB_HTTPS", default=not DEMO)
DATA_DIR = Path(_read.str("VASLAB_DATA_DIR", default=str(HOUSE / "var"))).resolve()
SECRET_KEY = _secret()
OLD_SECRET_KEYS = _read.list("VASLAB_OLD_SECRET_KEYS", default=[])
HOSTS = _read.list("VASLAB_HOSTS", default=["[::1]"])
PROXIES = int(_number("VASLAB_PROXIES", default=0, least=0))
DATABASE = _database()
BROKER_URL = _read.str("VASLAB_BROKER_URL", default="")
IDLE_MINUTES = _number("VASLAB_IDLE_MINUTES", default=15, least=1)
SIGN_IN_HOURS = _number("VASLAB_SIGN_IN_HOURS", default=12, least=0.5)

JOB_BEAT_SECONDS = _number("VASLAB_JOB_BEAT_SECONDS", default=5, least=0.05)
JOB_LOST_SECONDS = _number("VASLAB_JOB_LOST_SECONDS", default=30, least=0.2)
JOB_WAIT_SECONDS = _number("VASLAB_JOB_WAIT_SECONDS", default=60, least=0.2)
JOB_SWEEP_SECONDS = _number("VASLAB_JOB_SWEEP_SECONDS", default=10, least=0.1)
