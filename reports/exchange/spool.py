"""What was read and judged, kept in a file until it is written: the record is locked only for the writing.

One line says the exam and how many findings follow, each a line of its own. Plain text; nothing of it is kept
once the job ends.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import IO, Any

from exams.hemodynamics import Interpretation, NotStated

# limb, measure, value, band, finding as JSON
StoredFinding = tuple[str, str, str | None, str, str]


@dataclass(frozen=True, slots=True)
class Spooled:
    """One draft ready to be written. `said` holds plain values only."""

    said: dict[str, Any]
    findings: list[StoredFinding]


def spool(file: IO[str], said: dict[str, Any], found: Interpretation | None) -> None:
    findings = found.findings if found is not None else ()
    lines = [json.dumps({**said, "findings": len(findings)})]
    for finding in findings:
        value = "" if isinstance(finding.value, NotStated) else str(finding.value)
        limb = finding.limb.value if finding.limb else ""
        # A tab or a line's end inside the text is written as \t and \n by json.
        lines.append(f"{limb}\t{finding.measure}\t{value}\t{finding.band}\t{json.dumps(finding.to_json())}")
    file.write("\n".join(lines) + "\n")


def spooled(file: IO[str]) -> Iterator[Spooled]:
    file.seek(0)
    while line := file.readline():
        said = json.loads(line)
        yield Spooled(said, [_finding(file.readline()) for _ in range(said.pop("findings"))])


def in_blocks(items: Iterable[Spooled], size: int) -> Iterator[list[Spooled]]:
    block: list[Spooled] = []
    for item in items:
        block.append(item)
        if len(block) == size:
            yield block
            block = []
    if block:
        yield block


def _finding(line: str) -> StoredFinding:
    limb, measure, value, band, finding = line.rstrip("\n").split("\t", 4)
    return limb, measure, value or None, band, finding
