"""The criteria shipped with the core: one TOML file a guideline and version, ``<name>@<version>.toml``."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.criteria.reading import read_criteria
from exams.hemodynamics.errors import InputError

DEFAULT_CRITERIA = "acc-aha-2024"
_FOLDER = Path(__file__).parent


def criteria_names() -> tuple[str, ...]:
    """Names of the criteria shipped, the default first, then by name."""
    names = {path.stem.rpartition("@")[0] for path in _FOLDER.glob("*@*.toml")}
    return tuple(sorted(names, key=lambda name: (name != DEFAULT_CRITERIA, name)))


def criteria_versions(name: str) -> tuple[str, ...]:
    """Versions shipped of one name, oldest first; empty if there is none."""
    versions = (
        path.stem.rpartition("@")[2] for path in _FOLDER.glob("*@*.toml") if path.stem.startswith(f"{name}@")
    )
    return tuple(sorted(versions, key=lambda version: (len(version), version)))


@lru_cache(maxsize=32)
def load_criteria(name: str, version: str | None = None) -> Criteria:
    """The shipped criteria of a name, in the newest version unless one is given.

    Raises
    ------
    InputError
        ``criteria.unknown``, with the names or versions there are as its limit.
    CriteriaError
        If the file is not whole.
    """
    versions = criteria_versions(name) if name in criteria_names() else ()
    if not versions:
        raise InputError("criteria.unknown", field="criteria", value=name, limit=criteria_names())
    chosen = versions[-1] if version is None else version
    if chosen not in versions:
        raise InputError("criteria.unknown", field="version", value=chosen, limit=versions)
    # newline="" keeps the bytes as they are: the hash is of the file, on every machine.
    with (_FOLDER / f"{name}@{chosen}.toml").open(encoding="utf-8", newline="") as file:
        return read_criteria(file.read())


__all__ = [
    "DEFAULT_CRITERIA",
    "Criteria",
    "criteria_names",
    "criteria_versions",
    "load_criteria",
    "read_criteria",
]
