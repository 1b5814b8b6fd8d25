"""The files of this house, as git knows them or would."""

import subprocess
from pathlib import Path

HOUSE = Path(__file__).resolve().parent.parent.parent


def files(*patterns: str) -> list[Path]:
    """The tracked and new files that match, without what others wrote (vendor folders)."""
    listed = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "--", *patterns],
        cwd=HOUSE,
        capture_output=True,
        text=True,
        check=True,
    )
    found = (HOUSE / name for name in sorted(set(listed.stdout.splitlines())))
    return [path for path in found if path.is_file() and "vendor" not in path.parts]


def name(path: Path) -> str:
    return str(path.relative_to(HOUSE))
