"""What a limit of the criteria would change: bands of the last exams, read again with the limit moved.

The stored numbers are banded, not the readings: a band that follows from more than its number (a mixed
ankle, a toe without a signal) is left as it is, and told how many. Nothing is stored or adopted here.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from access.people import Person
from access.permissions import allowed, require
from exams.hemodynamics import Criteria
from exams.visits.models import Exam, Result
from exams.visits.plan import DONE_STATES
from exams.visits.queries.criteria import in_force

INDICES = ("ankle_brachial_index", "toe_brachial_index")
PRESSURES = ("ankle_pressure", "toe_pressure")
NAMES = {
    "ankle_brachial_index": "ankle-brachial index",
    "toe_brachial_index": "toe-brachial index",
    "ankle_pressure": "ankle pressure",
    "toe_pressure": "toe pressure",
}
LISTED = 100
MOST = 500


@dataclass(frozen=True)
class Edge:
    """Where one band ends and the next begins: the first number of the upper one, in hundredths or mmHg.

    ``lowest`` and ``highest`` are as far as it may be moved, so that every band keeps a number.
    """

    measure: str
    place: int
    lower: str
    upper: str
    limit: int
    lowest: int
    highest: int

    @property
    def key(self) -> str:
        return f"{self.measure}.{self.place}"

    @property
    def shown(self) -> str:
        return self.said(self.limit)

    def said(self, number: int) -> str:
        """A number of this edge as it is written: 0.91, or 30 mmHg."""
        return f"{number / 100:.2f}" if self.measure in INDICES else f"{number} mmHg"

    @property
    def words(self) -> str:
        return f"{NAMES[self.measure]}: {self.lower} below {self.shown}, {self.upper} from there"


@dataclass(frozen=True)
class Changed:
    """One limb that would read otherwise."""

    exam_id: int
    day: str
    limb: str
    value: str
    before: str
    after: str


@dataclass(frozen=True)
class WhatIf:
    criteria: Criteria
    edge: Edge
    moved_to: str
    exams: int
    limbs: int
    left: int
    moves: Sequence[tuple[str, str, int]]
    changed: Sequence[Changed]
    many: int
    leads_to_exams: bool


def edges(by: Person) -> list[Edge]:
    """Every edge of the criteria in force that may be moved."""
    criteria = in_force(by)
    return [edge for measure in (*INDICES, *PRESSURES) for edge in _edges_of(criteria, measure)]


def what_if(by: Person, edge: Edge, limit: int, last: int) -> WhatIf:
    """Which of the clinic's last exams would change band if ``edge`` lay at ``limit``."""
    require(by, "try criteria")
    criteria = in_force(by)
    bands = _starts(criteria, edge.measure)
    moved = [(limit if place == edge.place + 1 else start, code) for place, (start, code) in enumerate(bands)]
    exams = list(
        Exam.objects.filter(clinic=by.clinic, state__in=DONE_STATES)
        .order_by("-measured_at", "-pk")
        .values_list("pk", "measured_at")[: min(last, MOST)]
    )
    zone = by.clinic.zone if by.clinic else None
    days = {number: f"{at.astimezone(zone):%d %b %Y}" for number, at in exams if at is not None}
    rows = Result.objects.filter(
        exam__in=list(days), measure=edge.measure, criteria=criteria.name, value__isnull=False
    ).values_list("exam", "limb", "value", "band")
    changed, left, limbs = [], 0, 0
    for exam, limb, value, band in rows.order_by("-exam", "-limb"):
        if value is None:
            continue
        number = _number(edge.measure, value)
        if _band(bands, number) != band:
            left += 1
            continue
        limbs += 1
        after = _band(moved, number)
        if after != band:
            shown = f"{number / 100:.2f}" if edge.measure in INDICES else f"{value.normalize():f}"
            changed.append(Changed(exam, days[exam], limb.upper(), shown, band, after))
    moves = Counter((one.before, one.after) for one in changed)
    return WhatIf(
        criteria=criteria,
        edge=edge,
        moved_to=edge.said(limit),
        exams=len(exams),
        limbs=limbs,
        left=left,
        moves=[(before, after, many) for (before, after), many in sorted(moves.items())],
        changed=changed[:LISTED],
        many=len(changed),
        leads_to_exams=allowed(by, "see exam"),
    )


def _edges_of(criteria: Criteria, measure: str) -> list[Edge]:
    starts = _starts(criteria, measure)
    found = []
    for place, ((below, lower), (start, upper)) in enumerate(pairwise(starts)):
        after = starts[place + 2][0] if place + 2 < len(starts) else start + 60
        found.append(Edge(measure, place, lower, upper, start, below + 1, after - 1))
    return found


def _starts(criteria: Criteria, measure: str) -> list[tuple[int, str]]:
    """The first number of each band, lowest first, in hundredths or in whole mmHg."""
    if measure in INDICES:
        return [(band.lo, band.code) for band in criteria.index_bands[measure]]
    starts, below = [], 0
    for band in criteria.pressure_bands[measure]:
        starts.append((below, band.code))
        if band.limit_mmhg is not None:
            below = band.limit_mmhg + (1 if band.operator == "<=" else 0)
    return starts


def _band(starts: Sequence[tuple[int, str]], number: Decimal) -> str:
    return [code for start, code in starts if start <= number][-1]


def _number(measure: str, value: Decimal) -> Decimal:
    return value * 100 if measure in INDICES else value
