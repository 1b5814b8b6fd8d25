"""Any two exams of a patient side by side: every measure and every site of both limbs. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from decimal import Decimal
from statistics import mean

from django.utils.safestring import SafeString

from exams.hemodynamics import Criteria, Outcome, OwnNoise, Side, Site
from exams.visits.history import ExamRecord, LimbRecord, ReadingLine
from reports.timeline.change import between_two, signed
from reports.timeline.figure import NAMES
from reports.timeline.lean import seen_words
from reports.timeline.record import limits_of
from reports.timeline.seen import seen_of
from reports.timeline.series import Measure, Seen
from reports.timeline.years import Event


@dataclass(frozen=True)
class ComparedMeasure:
    """One measure at both exams, and whether they differ by more than noise."""

    name: str
    earlier: Seen
    later: Seen
    words: str

    @property
    def earlier_words(self) -> SafeString:
        return seen_words(self.earlier)

    @property
    def later_words(self) -> SafeString:
        return seen_words(self.later)


@dataclass(frozen=True)
class ComparedSite:
    """What stands at one site at both exams; `difference` is empty where there are not two pressures."""

    name: str
    earlier: str
    later: str
    difference: str


@dataclass(frozen=True)
class ComparedLimb:
    word: str
    measures: tuple[ComparedMeasure, ...]
    sites: tuple[ComparedSite, ...]


def compared(
    earlier: ExamRecord,
    later: ExamRecord,
    events: Mapping[Side, Sequence[Event]],
    criteria: Criteria,
    zone: tzinfo,
    own: Sequence[OwnNoise] = (),
) -> tuple[ComparedLimb, ComparedLimb]:
    """RIGHT and LEFT, `earlier` being the older of the two."""
    limits = limits_of(criteria)

    def limb(side: Side) -> ComparedLimb:
        cores = [event.core for event in events.get(side, ()) if event.core]
        measures = tuple(
            ComparedMeasure(
                NAMES[measure],
                seen_of(earlier, side, measure, zone, limits),
                seen_of(later, side, measure, zone, limits),
                between_two(earlier, later, side, measure, cores, criteria, own),
            )
            for measure in Measure
        )
        return ComparedLimb(side.word, measures, _sites(earlier.limb(side), later.limb(side)))

    return limb(Side.RIGHT), limb(Side.LEFT)


def _sites(earlier: LimbRecord, later: LimbRecord) -> tuple[ComparedSite, ...]:
    tried = dict.fromkeys(reading.site for limb in (earlier, later) for reading in limb.readings)
    return tuple(_site(site, _at(earlier, site), _at(later, site)) for site in tried)


def _at(limb: LimbRecord, site: Site) -> list[ReadingLine]:
    return [reading for reading in limb.readings if reading.site is site]


def _site(site: Site, earlier: Sequence[ReadingLine], later: Sequence[ReadingLine]) -> ComparedSite:
    return ComparedSite(site.words, _shown(earlier), _shown(later), _difference(earlier, later))


def _shown(readings: Sequence[ReadingLine]) -> str:
    if not readings:
        return "not measured"
    ways = dict.fromkeys(
        reading.technique_words for reading in readings if reading.outcome != Outcome.NOT_OBTAINED
    )
    shown = "; ".join(reading.shown for reading in readings)
    return f"{shown} ({', '.join(ways)})" if ways else shown


def _difference(earlier: Sequence[ReadingLine], later: Sequence[ReadingLine]) -> str:
    was, now = _pressures(earlier), _pressures(later)
    if not was or not now:
        return ""
    ways = {reading.technique for reading in (*earlier, *later) if reading.outcome == Outcome.PRESSURE}
    if len(ways) > 1:
        return "another technique"
    # Half a mmHg is as fine as a pressure is read.
    difference = (Decimal(2) * (mean(now) - mean(was))).quantize(Decimal(1)) / 2
    return f"{signed(difference)} mmHg"


def _pressures(readings: Sequence[ReadingLine]) -> list[Decimal]:
    return [
        reading.pressure_mmhg
        for reading in readings
        if reading.outcome == Outcome.PRESSURE and reading.pressure_mmhg is not None
    ]
