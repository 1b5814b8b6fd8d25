"""``./run bench [names]``: measure, print a table and write bench-results.json.

Each file beside this one has a function ``measure()`` that gives a list of figures, each a mapping with
``name``, ``value``, ``unit``, ``must`` (the limit in words) and ``met``. A figure that can be judged on any
machine is a ratio of two things done in one run.
"""

import importlib
import json
import logging
import os
import platform
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import django

HERE = Path(__file__).resolve().parent
RESULTS = HERE.parent / "bench-results.json"


def main(names: list[str]) -> int:
    known = sorted({path.stem for path in HERE.glob("[!_]*.py")})
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"No such measurement: {', '.join(unknown)}. There are: {', '.join(known)}.", file=sys.stderr)
        return 2
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "vaslab.settings")
    django.setup()
    logging.disable(logging.INFO)
    figures: list[dict[str, Any]] = []
    for name in names or known:
        print(f"{name} …", flush=True)
        figures += importlib.import_module(f"bench.{name}").measure()
    print(*table(figures), sep="\n")
    RESULTS.write_text(json.dumps(results(figures), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return 0


def results(figures: list[dict[str, Any]]) -> dict[str, Any]:
    from vaslab.version import version

    return {
        "version": version(),
        "python": platform.python_version(),
        "machine": platform.machine(),
        "processors": os.cpu_count(),
        "figures": figures,
    }


def table(figures: list[dict[str, Any]]) -> Iterator[str]:
    rows = [("what", "measured", "must be", "")]
    for figure in figures:
        word = "" if figure["must"] == "no limit set" else "met" if figure["met"] else "MISSED"
        rows.append((figure["name"], f"{figure['value']:,} {figure['unit']}", figure["must"], word))
    widths = [max(len(row[column]) for row in rows) for column in range(4)]
    for row in rows:
        yield "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True)).rstrip()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
