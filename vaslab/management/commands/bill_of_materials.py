"""What this service is made of besides its own code: a bill of materials for whoever scans it."""

import json
import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

_NAMED = re.compile(r"^([a-z0-9][a-z0-9._-]*)==(\S+)", re.MULTILINE)
_LONGEST_NAME_OF_A_LICENCE = 80
NOT_DECLARED = "not declared by the package"


class Command(BaseCommand):
    help = (
        "Print every package of requirements.lock that is installed here and every file served for others, "
        "with version and licence, as CycloneDX 1.5. A scanner of known weaknesses reads it."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        bill = {
            "bomFormat": "CycloneDX",
            "specVersion": "1.5",
            "version": 1,
            "metadata": {"component": {"type": "application", "name": "vaslab", "version": settings.VERSION}},
            "components": [*_packages(), *_served()],
        }
        self.stdout.write(json.dumps(bill, indent=1))


def _packages() -> list[dict[str, Any]]:
    lock = (settings.HOUSE / "requirements.lock").read_text(encoding="utf-8")
    found = []
    for name in dict.fromkeys(name for name, _ in _NAMED.findall(lock)):
        try:
            installed = distribution(name)
        except PackageNotFoundError:
            continue  # of another system or Python
        found.append(_component("pypi", name, installed.version, _licence(installed)))
    return found


def _served() -> list[dict[str, Any]]:
    listed = settings.HOUSE / "vaslab/static/vaslab/vendor/VENDORED.toml"
    files = tomllib.loads(listed.read_text(encoding="utf-8"))["file"]
    packages = {(one["package"], one["version"]): one["licence"] for one in files}
    return [_component("npm", name, version, licence) for (name, version), licence in packages.items()]


def _component(kind: str, name: str, version: str, licence: str) -> dict[str, Any]:
    return {
        "type": "library",
        "name": name,
        "version": version,
        "purl": f"pkg:{kind}/{name.replace('@', '%40')}@{version}",
        "licenses": [{"license": {"name": licence}}],
    }


def _licence(installed: Distribution) -> str:
    said = installed.metadata
    named = [*(said.get_all("License-Expression") or []), *(said.get_all("License") or [])]
    if named and len(named[0]) <= _LONGEST_NAME_OF_A_LICENCE:
        return str(named[0])
    # Older packages put the whole text there, and the name among what they are classed as.
    classed = [
        one.rpartition(" :: ")[2] for one in said.get_all("Classifier") or [] if one.startswith("License")
    ]
    return " or ".join(classed) or NOT_DECLARED
