"""The further tests of an exam as its report prints them: a compact table a test done."""

from collections.abc import Sequence
from dataclasses import replace

from exams.hemodynamics import Interpretation
from exams.visits.further.tables import FoundLine, FurtherTable, is_further
from reports.documents.assemble import cell
from reports.documents.content import Fact, FurtherRow, FurtherSection


def further_sections(tables: Sequence[FurtherTable]) -> tuple[FurtherSection, ...]:
    """What was entered and what was found, test by test."""
    return tuple(
        FurtherSection(
            title=table.title,
            entered=tuple(Fact(line.label, line.words) for line in table.entered),
            rows=tuple(_row(line) for line in table.lines),
            sentences=table.sentences,
        )
        for table in tables
    )


def at_rest(found: Interpretation) -> Interpretation:
    """The findings of the resting pressures alone: those of further tests have their own tables."""
    return replace(found, findings=tuple(one for one in found.findings if not is_further(one)))


def _row(line: FoundLine) -> FurtherRow:
    plain = (cell(line.right), cell(line.left), cell(line.both))
    # No repeatability is published for any of them, which is said once under the table.
    right, left, both = (replace(one, interval="") if one else None for one in plain)
    return FurtherRow(line.label, right, left, both, line.any.rule, line.any.source)
