"""What one exam says of one measure of one limb, as it is shown. Pure."""

from collections.abc import Sequence
from datetime import datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal

from exams.hemodynamics import (
    ANKLE_SITES,
    TOE_SITES,
    Finding,
    Interval,
    NotStated,
    Outcome,
    Side,
    probability_below,
)
from exams.visits.history import ExamRecord, LimbRecord, ReadingLine
from reports.timeline.series import Absence, Measure, NoValue, Point, Seen
from reports.timeline.years import Limit

ANKLE_MEASURES = (Measure.ANKLE_PRESSURE, Measure.ANKLE_BRACHIAL_INDEX)
INDEX_MEASURES = (Measure.ANKLE_BRACHIAL_INDEX, Measure.TOE_BRACHIAL_INDEX)
REMARKS = {"COLD_TOE": "cold toe", "PROVISIONAL": "provisional", "ONE_ARTERY": "one ankle artery only"}


def seen_of(record: ExamRecord, side: Side, measure: Measure, zone: tzinfo, limits: Sequence[Limit]) -> Seen:
    """What one exam says of one measure of one limb.

    Where there is no value, the readings say which of three different things that is: an artery that could
    not be occluded, no signal at any site tried, or a measure not made.
    """
    finding = record.interpretation.of(measure, side)
    at = record.at.astimezone(zone)
    if finding is None:
        return NoValue(record.exam_id, at, Absence.NOT_MADE, "not measured")
    if isinstance(finding.value, NotStated):
        return _no_value(record, side, measure, at, finding, finding.value.reason)
    stated = None if isinstance(finding.interval, NotStated) else finding.interval
    return Point(
        record.exam_id,
        at,
        finding.value,
        finding.shown,
        interval=(stated.low, stated.high) if stated else None,
        interval_shown=interval_words(stated, finding.unit) if stated else "",
        unsure=finding.interval.reason if isinstance(finding.interval, NotStated) else "",
        how=", ".join([*_how(record, record.limb(side), measure), *_remarks(finding)]),
        band=finding.band,
        band_words=finding.band_words,
        reading_ids=_reading_ids(record, side, measure),
        chances=_chances(finding, measure, limits),
    )


def _chances(finding: Finding, measure: Measure, limits: Sequence[Limit]) -> tuple[str, ...]:
    """ "below 30: 12 %" for each limit that a value can lie beneath; none where the value has no interval."""
    found = []
    for limit in limits:
        if limit.measure is measure and limit.edge is not None:
            chance = probability_below(finding, limit.edge)
            if not isinstance(chance, NotStated):
                found.append(f"{limit.beneath}: {percent_words(chance)}")
    return tuple(found)


def percent_words(chance: float) -> str:
    """Whole per cent, and never a certainty that no measurement gives."""
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{round(chance * 100)} %"


def _no_value(
    record: ExamRecord, side: Side, measure: Measure, at: datetime, finding: Finding, because: str
) -> NoValue:
    absence, cuff_mmhg = _absence(_readings(record.limb(side), measure))
    if measure in INDEX_MEASURES:
        cuff_mmhg = None
    if cuff_mmhg is not None:
        because = f"{because} at {cuff_mmhg.normalize():f} mmHg"
    ids = _reading_ids(record, side, measure)
    return NoValue(record.exam_id, at, absence, because, cuff_mmhg, finding.band, finding.band_words, ids)


def _reading_ids(record: ExamRecord, side: Side, measure: Measure) -> tuple[int, ...]:
    """The readings behind a pressure; an index has none of its own."""
    if measure in INDEX_MEASURES:
        return ()
    return tuple(reading.reading_id for reading in _readings(record.limb(side), measure))


def interval_words(interval: Interval, unit: str) -> str:
    """Pressures in whole mmHg, indices as they are."""
    if unit != "mmHg":
        return interval.shown
    low, high = (end.quantize(Decimal(1), ROUND_HALF_UP) for end in (interval.low, interval.high))
    return f"{low} to {high}"


def _readings(limb: LimbRecord, measure: Measure) -> tuple[ReadingLine, ...]:
    sites = ANKLE_SITES if measure in ANKLE_MEASURES else TOE_SITES
    return tuple(reading for reading in limb.readings if reading.site in sites)


def _absence(readings: Sequence[ReadingLine]) -> tuple[Absence, Decimal | None]:
    outcomes = {reading.outcome for reading in readings}
    if Outcome.NOT_OCCLUDABLE in outcomes:
        reached = [
            reading.pressure_mmhg
            for reading in readings
            if reading.outcome == Outcome.NOT_OCCLUDABLE and reading.pressure_mmhg is not None
        ]
        return Absence.NOT_OCCLUDABLE, max(reached, default=None)
    if Outcome.NO_SIGNAL in outcomes and Outcome.PRESSURE not in outcomes:
        return Absence.NO_SIGNAL, None
    return Absence.NOT_MADE, None


def _how(record: ExamRecord, limb: LimbRecord, measure: Measure) -> list[str]:
    """The toe, technique and, for an index, the arms: what makes values comparable; and where it is from."""
    words = []
    if measure not in ANKLE_MEASURES and limb.toe:
        words.append(limb.toe.words)
    code = limb.ankle_technique if measure in ANKLE_MEASURES else limb.toe_technique
    words += {reading.technique_words for reading in _readings(limb, measure) if reading.technique == code}
    if measure in INDEX_MEASURES:
        words.append(_arms(record.arms))
    if record.imported_from:
        words.append("imported")
    return words


def _remarks(finding: Finding) -> list[str]:
    """What makes the value itself doubtful, said wherever the value is."""
    return [words for flag, words in REMARKS.items() if flag in finding.flags]


def _arms(arms: frozenset[Side]) -> str:
    if len(arms) == 2:
        return "both arms"
    return "".join(f"{arm.word} arm only" for arm in arms)
