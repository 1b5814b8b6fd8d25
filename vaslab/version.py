"""The version, read from the newest heading of CHANGELOG.md so that it is written in one place."""

import re
from pathlib import Path

CHANGELOG = Path(__file__).resolve().parent.parent / "CHANGELOG.md"


def version() -> str:
    """The newest version, such as "0.1.0".

    Raises
    ------
    ValueError
        If CHANGELOG.md has no heading of the form ``## 1.2.3``.
    """
    found = re.search(r"^## (\d+\.\d+\.\d+)\b", CHANGELOG.read_text(encoding="utf-8"), re.MULTILINE)
    if found is None:
        raise ValueError(f"{CHANGELOG.name} has no heading such as '## 1.2.3'")
    return found[1]
