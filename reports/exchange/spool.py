"""What was read and judged, packed until it is written: the record is locked only for the writing.

A piece holds some exams. One line says the exam and how many findings follow, each a line of its own.
"""

import json
import tempfile
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from exams.hemodynamics import Interpretation, NotStated

# limb, measure, value, band, finding as JSON
StoredFinding = tuple[str, str, str | None, str, str]
# Findings are twenty times the same words: the quickest packing makes a tenth of them.
_QUICKLY = 1
_LENGTH = 8


@dataclass(frozen=True, slots=True)
class Spooled:
    """One draft ready to be written. `said` holds plain values only."""

    said: dict[str, Any]
    findings: list[StoredFinding]


def packed(drafts: Iterable[tuple[dict[str, Any], Interpretation | None]]) -> bytes:
    """Some drafts with what was found in them, as one piece."""
    lines: list[str] = []
    for said, found in drafts:
        findings = found.findings if found is not None else ()
        lines.append(json.dumps({**said, "findings": len(findings)}))
        for finding in findings:
            value = "" if isinstance(finding.value, NotStated) else str(finding.value)
            limb = finding.limb.value if finding.limb else ""
            # A tab or a line's end inside the text is written as \t and \n by json.
            lines.append(
                f"{limb}\t{finding.measure}\t{value}\t{finding.band}\t{json.dumps(finding.to_json())}"
            )
    return zlib.compress("\n".join(lines).encode(), _QUICKLY)


def unpacked(piece: bytes) -> list[Spooled]:
    """The drafts of a piece, in their order."""
    drafts = []
    lines = iter(zlib.decompress(piece).decode().split("\n"))
    for line in filter(None, lines):
        said = json.loads(line)
        drafts.append(Spooled(said, [_finding(next(lines)) for _ in range(said.pop("findings"))]))
    return drafts


class Pieces:
    """Pieces in a file that is gone with the object, in the order in which they came."""

    def __init__(self) -> None:
        self._file = tempfile.TemporaryFile()  # noqa: SIM115 - closed with the object

    def add(self, piece: bytes) -> None:
        self._file.write(len(piece).to_bytes(_LENGTH, "big") + piece)

    def __iter__(self) -> Iterator[bytes]:
        self._file.seek(0)
        while length := self._file.read(_LENGTH):
            yield self._file.read(int.from_bytes(length, "big"))


def _finding(line: str) -> StoredFinding:
    limb, measure, value, band, finding = line.split("\t", 4)
    return limb, measure, value or None, band, finding
