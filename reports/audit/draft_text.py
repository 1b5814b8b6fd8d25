"""The text of draft criteria: the criteria in force with one limit moved. Pure.

A draft is a whole file of criteria, checked by the same reader as a shipped one; what is moved says of itself
that it is the clinic's own.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from exams.hemodynamics import Criteria, criteria_versions

INDICES = ("ankle_brachial_index", "toe_brachial_index")
PRESSURES = ("ankle_pressure", "toe_pressure")
NAMES = {
    "ankle_brachial_index": "ankle-brachial index",
    "toe_brachial_index": "toe-brachial index",
    "ankle_pressure": "ankle pressure",
    "toe_pressure": "toe pressure",
}
# Thresholds that a clinic may move, by the end of their names, which is their unit; and how far.
UNITS = {"_mmhg": (" mmHg", 1, 300), "_celsius": (" °C", 0, 45), "_minutes": (" minutes", 0, 60)}
# Of these the change of a limb is judged, not the reading of an exam.
OF_CHANGE = "change_"
SOURCE, STATUS = "OURS", "ours, a draft of the clinic for its medical lead to sign off"


@dataclass(frozen=True)
class Edge:
    """A limit that may be moved: the first number of the upper of two bands, or a threshold by its name.

    ``measure`` is empty for a threshold. ``limit``, ``lowest``, ``highest`` are in hundredths for an index,
    else whole numbers of ``unit``; so far it may be moved that every band keeps a number.
    """

    key: str
    measure: str
    place: int
    words: str
    unit: str
    limit: int
    lowest: int
    highest: int

    @property
    def of_an_index(self) -> bool:
        return self.measure in INDICES

    def said(self, number: int) -> str:
        """A number of this limit as it is written: 0.91, or 30 mmHg."""
        return f"{number / 100:.2f}" if self.of_an_index else f"{number}{self.unit}"


def edges_of(criteria: Criteria) -> list[Edge]:
    """Every limit of the criteria that may be moved: between bands first, then the thresholds."""
    bands = [edge for measure in (*INDICES, *PRESSURES) for edge in _between_bands(criteria, measure)]
    return [*bands, *_thresholds(criteria)]


def moved(criteria: Criteria, edge: Edge, limit: int) -> str:
    """The criteria's text with the limit moved, under the next version.

    Raises
    ------
    ValueError
        If the text does not hold the limit where it is looked for.
    """
    wanted = {
        ("", 0, "version"): f'"{next_version(criteria)}"',
        ("", 0, "title"): _title(criteria, edge, limit),
    }
    wanted |= _moved_lines(criteria, edge, limit)
    lines = []
    for line, where in _lines(criteria.text):
        value = wanted.pop(where, None) if where else None
        lines.append(line if value is None or where is None else f"{where[2]} = {value}\n")
    if wanted:
        raise ValueError(f"not found in the criteria: {sorted(wanted)}")
    return "".join(lines)


def next_version(criteria: Criteria) -> str:
    """The number after the newest version shipped under this name."""
    numbers = [int(one) for one in criteria_versions(criteria.name) if one.isdecimal()]
    return str(max(numbers, default=0) + 1)


def _title(criteria: Criteria, edge: Edge, limit: int) -> str:
    title = (
        f"{criteria.title}. DRAFT from version {criteria.version}: {edge.words}, moved to {edge.said(limit)}"
    )
    return json.dumps(title, ensure_ascii=False)  # a string of JSON is one of TOML


def _moved_lines(criteria: Criteria, edge: Edge, limit: int) -> dict[tuple[str, int, str], str]:
    own = {"source": f'"{SOURCE}"', "status": f'"{STATUS}"'}
    if not edge.measure:
        parts = {"operator": f'"{criteria.thresholds[edge.key].operator}"', "limit": str(limit), **own}
        said = ", ".join(f"{name} = {value}" for name, value in parts.items())
        return {("thresholds", 0, edge.key): f"{{ {said} }}"}
    lower, upper = ((edge.measure, place) for place in (edge.place, edge.place + 1))
    if edge.of_an_index:
        found = {(*lower, "hi"): str(limit - 1), (*upper, "lo"): str(limit)}
        return found | {(*band, name): value for band in (lower, upper) for name, value in own.items()}
    inclusive = criteria.pressure_bands[edge.measure][edge.place].operator == "<="
    found = {(*lower, "limit_mmhg"): str(limit - 1 if inclusive else limit)}
    return found | {(*lower, name): value for name, value in own.items()}


def _lines(text: str) -> Iterator[tuple[str, tuple[str, int, str] | None]]:
    """Each line with the table it stands in, the how-manieth of its name, and its key."""
    seen: dict[str, int] = {}
    table = ""
    for line in text.splitlines(keepends=True):
        head = re.match(r"\[\[?([\w.]+)\]", line)
        if head:
            table = head[1]
            seen[table] = seen.get(table, -1) + 1
        key = re.match(r"(\w+)\s*=", line)
        yield line, (table, seen.get(table, 0), key[1]) if key else None


def _between_bands(criteria: Criteria, measure: str) -> Iterator[Edge]:
    starts = _starts(criteria, measure)
    unit = "" if measure in INDICES else " mmHg"
    for place, ((below, lower), (start, upper)) in enumerate(pairwise(starts)):
        after = starts[place + 2][0] if place + 2 < len(starts) else start + 60
        shown = f"{start / 100:.2f}" if measure in INDICES else f"{start}{unit}"
        words = f"{NAMES[measure]}: {_plain(lower)} below {shown}, {_plain(upper)} from there"
        yield Edge(f"{measure}.{place}", measure, place, words, unit, start, below + 1, after - 1)


def _plain(code: str) -> str:
    """The code of a band as words: "abnormal severe", "WIfI 3"."""
    return code.lower().replace("_", " ").replace("wifi", "WIfI")


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


def _thresholds(criteria: Criteria) -> Iterator[Edge]:
    for name, threshold in criteria.thresholds.items():
        found = next(((end, *more) for end, more in UNITS.items() if name.endswith(end)), None)
        if found is None or name.startswith(OF_CHANGE):
            continue
        end, unit, lowest, highest = found
        words = f"{name.removesuffix(end).replace('_', ' ')}: {threshold.words}{unit}"
        yield Edge(name, "", 0, words, unit, threshold.limit, lowest, highest)
