"""The values of one limb and measure that may be laid beside the newest: same site, toe, technique, arms."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from exams.hemodynamics.change.comparable import (
    ANKLE_MEASURES,
    COMPARED,
    comparability,
    made_from,
    stiff_ankle,
    technique,
)
from exams.hemodynamics.change.difference import exact
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding, Interpretation, NotStated
from exams.hemodynamics.limb_effects import breaks_between, cautions_between
from exams.hemodynamics.limb_events import EventDate, LimbEvent
from exams.hemodynamics.measured import ANKLE_SITES, TOE_SITES, Side, Site

TOE_CODES = {toe.value for toe in TOE_SITES}
NOTHING_MEASURED = ("", "NOT_ASSESSED")


@dataclass(frozen=True, slots=True)
class DatedExam:
    """An exam's findings and its day."""

    on: date
    found: Interpretation


@dataclass(frozen=True, slots=True)
class Visit:
    """One value of a line, exact, in the unit of the measure (mmHg, or index)."""

    on: date
    value: Fraction
    shown: str


@dataclass(frozen=True, slots=True)
class Line:
    """The newest value and the earlier ones that may be compared with it, oldest first.

    ``skipped`` says, for each earlier exam left out, its day and why. ``cautions`` make the step from the
    value before to the newest doubtful without forbidding it.
    """

    limb: Side
    measure: str
    technique: str
    visits: tuple[Visit, ...]
    skipped: tuple[tuple[date, tuple[str, ...]], ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        return "mmHg" if self.measure.endswith("_pressure") else "index"


def line_of(
    exams: Sequence[DatedExam], limb: Side, measure: str, events: Collection[LimbEvent] = ()
) -> Line | NotStated:
    """Everything that may be laid beside the newest value of a measure.

    Looks back from the newest exam with a value. An event that starts a new baseline, and an exam in between
    that was tried and gave no number (a stiff ankle, no signal), end the line there; an exam measured another
    way is only left out.

    Raises
    ------
    InputError
        ``change.unknown_measure``.
    """
    if measure not in COMPARED:
        raise InputError("change.unknown_measure", "measure", measure, COMPARED)
    ordered = sorted(exams, key=lambda exam: exam.on)
    place = next((i for i in reversed(range(len(ordered))) if _valued(ordered[i], limb, measure)), None)
    newest = None if place is None else _valued(ordered[place], limb, measure)
    if place is None or newest is None:
        return NotStated("no value yet")
    last = ordered[place]
    visits = [_visit(last.on, newest)]
    skipped: list[tuple[date, tuple[str, ...]]] = []
    ended = ""
    for one in reversed(ordered[:place]):
        finding = one.found.of(measure, limb)
        if ended:
            skipped.append((one.on, (ended,)))
        elif finding is None:
            continue
        elif isinstance(finding.value, NotStated):
            if _tried_in_vain(one, finding, limb):
                ended = f"{finding.value.reason} on {EventDate(one.on).words}"
                skipped.append((one.on, (ended,)))
        else:
            between = breaks_between(events, limb, _sites(finding), one.on, last.on)
            reasons = comparability(one.found, last.found, limb, measure, breaks=between)
            if reasons:
                skipped.append((one.on, reasons))
                stiff = f"stiff ankle on {EventDate(one.on).words}" if _stiff(one, measure, limb) else ""
                ended = between[0] if between else stiff
            else:
                visits.append(_visit(one.on, finding))
    sites = _sites(newest)
    doubts = cautions_between(events, limb, sites, visits[1].on, last.on) if len(visits) > 1 else ()
    return Line(limb, measure, technique(newest), tuple(reversed(visits)), tuple(reversed(skipped)), doubts)


def _valued(exam: DatedExam, limb: Side, measure: str) -> Finding | None:
    finding = exam.found.of(measure, limb)
    return finding if finding is not None and not isinstance(finding.value, NotStated) else None


def _visit(on: date, finding: Finding) -> Visit:
    return Visit(on, exact(finding), finding.shown)


def _stiff(exam: DatedExam, measure: str, limb: Side) -> bool:
    return measure in ANKLE_MEASURES and stiff_ankle(exam.found, limb)


def _tried_in_vain(exam: DatedExam, finding: Finding, limb: Side) -> bool:
    """Whether a number was sought and not found, which is not the same as not measured."""
    return _stiff(exam, finding.measure, limb) or finding.band not in NOTHING_MEASURED


def _sites(finding: Finding) -> tuple[Site, ...]:
    """The toe a toe value came from; of an ankle value all ankle arteries."""
    site = made_from(finding).site
    return (Site(site),) if site in TOE_CODES else ANKLE_SITES
