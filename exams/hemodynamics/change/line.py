"""The values of one limb and measure that may be laid beside the newest: same site, toe, technique, arms."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from exams.hemodynamics.change.comparable import COMPARED, reasons_between
from exams.hemodynamics.change.found import Found, found_of
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Interpretation, NotStated
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
    return line_from(
        [(exam.on, found_of(exam.found, limb, measure)) for exam in exams], limb, measure, events
    )


def line_from(
    found: Iterable[tuple[date, Found | None]], limb: Side, measure: str, events: Collection[LimbEvent] = ()
) -> Line | NotStated:
    """The same from what the exams found of the measure, each with its day; None where one found nothing."""
    ordered = sorted(found, key=_day)
    place = next((i for i in reversed(range(len(ordered))) if _value(ordered[i][1]) is not None), None)
    last, newest = (None, None) if place is None else ordered[place]
    if place is None or last is None or newest is None:
        return NotStated("no value yet")
    visits = [_visit(last, newest)]
    skipped: list[tuple[date, tuple[str, ...]]] = []
    ended = ""
    for on, one in reversed(ordered[:place]):
        if ended:
            skipped.append((on, (ended,)))
        elif one is None:
            continue
        elif one.value is None:
            if one.stiff or one.band not in NOTHING_MEASURED:
                # A number was sought and not found, which is not the same as not measured.
                ended = f"{one.reason} on {EventDate(on).words}"
                skipped.append((on, (ended,)))
        else:
            between = breaks_between(events, limb, sites_of(one), on, last) if events else ()
            reasons = reasons_between(one, newest, breaks=between)
            if reasons:
                skipped.append((on, reasons))
                stiff = f"stiff ankle on {EventDate(on).words}" if one.stiff else ""
                ended = between[0] if between else stiff
            else:
                visits.append(_visit(on, one))
    doubts = cautions_between(events, limb, sites_of(newest), visits[1].on, last) if len(visits) > 1 else ()
    technique = newest.way.technique if newest.way else ""
    return Line(limb, measure, technique, tuple(reversed(visits)), tuple(reversed(skipped)), doubts)


def sites_of(found: Found) -> tuple[Site, ...]:
    """The toe a toe value came from; of an ankle value all ankle arteries."""
    site = found.way.site if found.way else ""
    return (Site(site),) if site in TOE_CODES else ANKLE_SITES


def _day(one: tuple[date, Found | None]) -> date:
    return one[0]


def _value(found: Found | None) -> Fraction | None:
    return None if found is None else found.value


def _visit(on: date, found: Found) -> Visit:
    return Visit(on, found.value or Fraction(0), found.shown)
