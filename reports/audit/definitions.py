"""The measures as forms of words: `measures/*.toml`, one entry a measure and version, read and checked."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "measures"
# In the order of the pages; workflow.md section 5 has them so.
FILES = ("process", "times", "critical", "outcomes", "quality")


class Kind(StrEnum):
    """What a measure gives: a share, a median with quartiles, a mean difference, or a table of codes."""

    SHARE = "share"
    MEDIAN = "median"
    DIFFERENCE = "difference"
    CODES = "codes"


@dataclass(frozen=True)
class Measure:
    """One measure. ``awaits`` is empty where the data exist; ``value`` is the unit of a value.

    ``within`` holds limits, in the unit of the value, whose shares are shown beside the median.
    """

    id: str
    version: int
    title: str
    why: str
    unit: str
    kind: Kind
    better: str
    numerator: str
    denominator: str
    unknown: str
    exclusions: tuple[str, ...]
    anchor: str
    value: str = ""
    awaits: str = ""
    by_person: bool = False
    within: tuple[int, ...] = ()

    @property
    def is_counted(self) -> bool:
        return not self.awaits

    @property
    def has_values(self) -> bool:
        return self.kind in (Kind.MEDIAN, Kind.DIFFERENCE)

    @property
    def name(self) -> str:
        """ "P01 version 1", as it is printed beside every figure."""
        return f"{self.id} version {self.version}"


class WrongDefinition(Exception):
    """A form is not complete, or says what cannot be."""


# The twelve that a clinic sees first until it chooses others.
FIRST_TWELVE = ("P01", "P02", "P04", "P06", "P08", "P11", "P12", "C01", "C04", "T05", "O07", "D02")


@cache
def measures() -> Mapping[str, Measure]:
    """Every measure by its id, in the order of workflow.md section 5."""
    found: dict[str, Measure] = {}
    for name in FILES:
        entries = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))["measure"]
        for entry in entries:
            measure = read(entry)
            if measure.id in found:
                raise WrongDefinition(f"{measure.id} is defined twice")
            found[measure.id] = measure
    return found


def read(entry: dict[str, Any]) -> Measure:
    """One entry of a file as a measure.

    Raises
    ------
    WrongDefinition
        If a part is missing, unknown or empty.
    """
    try:
        measure = Measure(
            **{
                **entry,
                "kind": Kind(entry["kind"]),
                "exclusions": tuple(entry["exclusions"]),
                "within": tuple(entry.get("within", ())),
            }
        )
    except (KeyError, TypeError, ValueError) as error:
        raise WrongDefinition(f"{entry.get('id', 'a measure')}: {error}") from None
    said = (measure.title, measure.why, measure.unit, measure.numerator, measure.denominator)
    if not all((*said, measure.unknown, measure.anchor)) or measure.better not in ("high", "low", ""):
        raise WrongDefinition(f"{measure.id} leaves a part empty")
    if measure.has_values is not bool(measure.value):
        raise WrongDefinition(f"{measure.id}: a value and its unit belong together")
    return measure
