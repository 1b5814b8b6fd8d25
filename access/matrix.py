"""The role matrix as data: abilities from access/roles.toml, URLs from every room's roles.toml.

A room lists each of its URLs by its full name::

    [urls."patients:page"]
    GET = "see patient"
    POST = "change patient"
    quiet = true     # optional: a poll, which does not count as the person being at the desk
    by_token = true  # optional: for programs, which prove themselves by a token; no sign-in opens it

A scope, by which a person lends some of their abilities to a program, is a table of access/roles.toml::

    [scopes."patients.read"]
    words = "find patients and read their records"
    abilities = ["find patients", "see patient"]
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.urls import ResolverMatch

from access.roles import Role

PUBLIC = "public"
SIGNED_IN = "signed in"
NOBODY = "nobody"
SPECIAL = frozenset({PUBLIC, SIGNED_IN, NOBODY})
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


@dataclass(frozen=True)
class UrlRule:
    """Which ability each method of one URL needs."""

    name: str
    abilities: Mapping[str, str]
    quiet: bool = False
    by_token: bool = False


@dataclass(frozen=True)
class Scope:
    """Abilities that can be lent to a program together, and the words in which a person is asked."""

    name: str
    words: str
    abilities: tuple[str, ...]


@dataclass(frozen=True)
class Matrix:
    """Abilities and the roles that grant them; URLs and the abilities they need; what is wrong with both."""

    abilities: Mapping[str, tuple[str, ...]]
    urls: Mapping[str, UrlRule]
    faults: tuple[str, ...] = field(default=())
    scopes: Mapping[str, Scope] = field(default_factory=dict)


def rule_for(match: ResolverMatch | None) -> UrlRule | None:
    """The rule of the URL that was asked for; None where the matrix knows none."""
    return matrix().urls.get(match.view_name) if match else None


@cache
def matrix() -> Matrix:
    """The matrix of all installed rooms, read once a process."""
    return read_matrix(_files())


def roles_granting(ability: str) -> tuple[str, ...]:
    """The roles that grant ``ability``, the preferred role acted in first.

    Raises
    ------
    LookupError
        If no such ability exists: a misspelt one must never pass for "allowed to nobody".
    """
    try:
        return matrix().abilities[ability]
    except KeyError:
        raise LookupError(f"“{ability}” is not an ability listed in access/roles.toml.") from None


def abilities_within(scopes: Iterable[str]) -> frozenset[str]:
    """Every ability these scopes hold together; a scope that is no longer listed holds none."""
    known = matrix().scopes
    return frozenset(ability for name in scopes if name in known for ability in known[name].abilities)


def scopes_holding(ability: str) -> tuple[str, ...]:
    """The scopes that hold ``ability``; none where it is lent to no program."""
    return tuple(name for name, scope in matrix().scopes.items() if ability in scope.abilities)


def read_matrix(files: Iterable[Path]) -> Matrix:
    """Read the matrix from ``files``, collecting every fault instead of stopping at the first."""
    faults: list[str] = []
    abilities: dict[str, tuple[str, ...]] = {}
    urls: dict[str, UrlRule] = {}
    scopes: dict[str, Scope] = {}
    tables: list[tuple[str, dict[str, Any]]] = []
    for path in files:
        place = f"{path.parent.name}/{path.name}"
        try:
            tables.append((place, tomllib.loads(path.read_text(encoding="utf-8"))))
        except tomllib.TOMLDecodeError as error:
            faults.append(f"{place} cannot be read: {error}")
    for place, table in tables:
        _read_abilities(place, table.get("abilities", {}), abilities, faults)
    for place, table in tables:
        _read_urls(place, table.get("urls", {}), abilities, urls, faults)
        for name, said in table.get("scopes", {}).items():
            lent = tuple(said["abilities"])
            unknown = [one for one in lent if one not in abilities]
            faults += [
                f"{place}: the scope “{name}” lends “{one}”, which is not an ability." for one in unknown
            ]
            scopes[name] = Scope(name, said["words"], lent)
    return Matrix(abilities=abilities, urls=urls, faults=tuple(faults), scopes=scopes)


def _read_abilities(
    place: str, listed: dict[str, Any], abilities: dict[str, tuple[str, ...]], faults: list[str]
) -> None:
    for ability, roles in listed.items():
        if ability in abilities or ability in SPECIAL:
            faults.append(f"{place} defines the ability “{ability}”, which is defined already.")
            continue
        unknown = [role for role in roles if role not in Role.values]
        faults += [f"{place} gives “{ability}” to “{role}”, which is not a role." for role in unknown]
        abilities[ability] = tuple(role for role in roles if role in Role.values)


def _read_urls(
    place: str,
    listed: dict[str, Any],
    abilities: Mapping[str, tuple[str, ...]],
    urls: dict[str, UrlRule],
    faults: list[str],
) -> None:
    for name, rule in listed.items():
        if name in urls:
            faults.append(f"{place} lists the URL “{name}”, which another room lists already.")
            continue
        needed: dict[str, str] = {}
        for key, value in rule.items():
            if key in ("quiet", "by_token"):
                continue
            if key not in METHODS:
                faults.append(f"{place}: “{key}” of the URL “{name}” is not a method.")
            elif value not in abilities and value not in SPECIAL:
                faults.append(f"{place}: the URL “{name}” needs “{value}”, which is not an ability.")
            else:
                needed[key] = value
        urls[name] = UrlRule(
            name=name,
            abilities=needed,
            quiet=bool(rule.get("quiet", False)),
            by_token=bool(rule.get("by_token", False)),
        )


def _files() -> list[Path]:
    folders = [Path(config.path) for config in apps.get_app_configs()]
    # The site itself need not be an installed app, yet its own pages are listed like any room's.
    site = import_module(settings.ROOT_URLCONF.rpartition(".")[0])
    folders += [Path(path) for path in site.__path__]
    unique = dict.fromkeys(folder.resolve() for folder in folders)
    return [folder / "roles.toml" for folder in unique if (folder / "roles.toml").is_file()]
