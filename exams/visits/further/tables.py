"""A further test in a few lines: what was entered, and what the core made of it. Nothing is read here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from exams.hemodynamics import CUFFS, Finding, Interpretation, Side
from exams.visits.further.catalogue import ASKS, tests_behind
from exams.visits.further.models import FurtherEntry, FurtherTest
from exams.visits.further.typed import shown_of

Rows = Mapping[str, Mapping[str, Sequence[FurtherEntry]]]

NAMES: Mapping[str, str] = {
    "post_exercise_index": "index after exercise",
    "exercise_drop": "fall of the index",
    "exercise_ankle_fall": "fall of the ankle pressure",
    "recovery_time": "back at rest after",
    "inflow_pattern": "what the thighs suggest",
    "rutherford_category": "Rutherford category",
    **{
        f"gradient_{upper}_{lower}": f"{upper.words} to {lower.words}"
        for cuffs in CUFFS.values()
        for upper, lower in pairwise(cuffs)
    },
    **{
        f"side_difference_{cuff}": f"{cuff.words}, RIGHT against LEFT"
        for cuffs in CUFFS.values()
        for cuff in cuffs
    },
}


@dataclass(frozen=True)
class EnteredLine:
    """What was entered under one heading; a correction says what stood there, who made it and why."""

    label: str
    words: str


@dataclass(frozen=True)
class FoundLine:
    """One measure, RIGHT and LEFT; `both` where it belongs to neither."""

    label: str
    right: Finding | None
    left: Finding | None
    both: Finding | None

    @property
    def any(self) -> Finding:
        """One of its findings, whose rule and source are those of the line."""
        found = self.right or self.left or self.both
        if found is None:
            raise ValueError("a line has a finding")
        return found


@dataclass(frozen=True)
class FurtherTable:
    """One test of one exam."""

    test: str
    title: str
    entered: tuple[EnteredLine, ...]
    lines: tuple[FoundLine, ...]
    sentences: tuple[str, ...]


def is_further(finding: Finding) -> bool:
    """Whether a finding comes from a further test and not from the pressures at rest."""
    return bool(tests_behind(finding.measure))


def tables_of(rows: Rows, found: Interpretation) -> tuple[FurtherTable, ...]:
    """A table for every test that has a value, in the order of the tests."""
    tables = []
    for test in FurtherTest:
        entered = _entered(test, rows.get(test, {}))
        if entered:
            tables.append(_table(test, entered, found))
    return tuple(tables)


def label_of(measure: str) -> str:
    words = NAMES.get(measure, measure.replace("_", " "))
    return words[0].upper() + words[1:]


def _table(test: FurtherTest, entered: tuple[EnteredLine, ...], found: Interpretation) -> FurtherTable:
    findings = [one for one in found.findings if test in tests_behind(one.measure)]
    # A pattern of one side stands in its column, one of both sides between them.
    lines = [
        FoundLine(
            label_of(measure),
            found.of(measure, Side.RIGHT),
            found.of(measure, Side.LEFT),
            found.of(measure, None),
        )
        for measure in dict.fromkeys(one.measure for one in findings)
    ]
    return FurtherTable(
        test=test.value,
        title=title_of(test),
        entered=entered,
        lines=tuple(lines),
        sentences=tuple(one.sentence for one in findings if one.sentence),
    )


def title_of(test: FurtherTest) -> str:
    words = str(test.label)
    return words[0].upper() + words[1:]


def _entered(test: FurtherTest, fields: Mapping[str, Sequence[FurtherEntry]]) -> tuple[EnteredLine, ...]:
    groups: dict[str, list[str]] = {}
    for ask in ASKS[test].values():
        rows = fields.get(ask.name)
        if not rows:
            continue
        newest, corrected = rows[-1], len(rows) > 1 and bool(rows[-1].replaced_because)
        if not newest.value and not corrected:
            continue
        said = f"{ask.told or ask.label} {shown_of(newest.value, ask) or 'taken back'}"
        if corrected:
            was = shown_of(rows[-2].value, ask) or "nothing"
            said += f" (before: {was}; {newest.entered_by.full_name}: {newest.replaced_because})"
        groups.setdefault(ask.group, []).append(said)
    return tuple(EnteredLine(label, ", ".join(said)) for label, said in groups.items())
