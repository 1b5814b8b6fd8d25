"""From the stored exams to the four series of each limb. Pure: exams in, frozen values out."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal

from exams.hemodynamics import (
    ANKLE_SITES,
    TOE_SITES,
    Criteria,
    DatedExam,
    Finding,
    Interval,
    LimbEvent,
    NotStated,
    Outcome,
    OwnNoise,
    Side,
    breaks_between,
    comparability,
    limb_standing,
    noise_of_change,
    probability_below,
)
from exams.visits.history import ExamRecord, LimbRecord, ReadingLine
from reports.timeline.change import change_of, sites_of
from reports.timeline.series import (
    Absence,
    Measure,
    NoValue,
    Point,
    ReasonsBetween,
    Seen,
    join,
)
from reports.timeline.years import Event, LimbYears, Limit, Years

ANKLE_MEASURES = (Measure.ANKLE_PRESSURE, Measure.ANKLE_BRACHIAL_INDEX)
INDEX_MEASURES = (Measure.ANKLE_BRACHIAL_INDEX, Measure.TOE_BRACHIAL_INDEX)
REMARKS = {"COLD_TOE": "cold toe", "PROVISIONAL": "provisional", "ONE_ARTERY": "one ankle artery only"}
# The findings that these pages read, so that the rest of two hundred exams stays in the database.
FINDINGS_READ = frozenset({*Measure, "position", "pattern", "urgency", "arm_used"})


def years_of(
    records: Sequence[ExamRecord],
    events: Mapping[Side, tuple[Event, ...]],
    criteria: Criteria,
    zone: tzinfo,
    today: date,
    *,
    own: Sequence[OwnNoise] = (),
) -> Years:
    """Both limbs over all the exams of one patient, in the clinic's time.

    `own` is the clinic's own noise, which takes the place of the published one.
    """
    measured = [record for record in records if record.right.readings or record.left.readings]
    limits = limits_of(criteria)
    right, left = (
        _limb(measured, side, events.get(side, ()), criteria, limits, zone, today, own)
        for side in (Side.RIGHT, Side.LEFT)
    )
    return Years((right, left), limits, criteria.label, today, sources_of(criteria))


def limits_of(criteria: Criteria) -> tuple[Limit, ...]:
    """The limits of the criteria that are drawn as named lines."""
    limits = []
    for measure, short in ((Measure.ANKLE_BRACHIAL_INDEX, "ankle"), (Measure.TOE_BRACHIAL_INDEX, "toe")):
        highest = Decimal(criteria.abnormal_hi(measure)) / 100
        beneath = f"{highest:.2f} or below"
        edge = highest + Decimal("0.01")
        limits.append(Limit(measure, highest, f"{short} {beneath}: reduced", beneath, edge))
    for band in criteria.index_bands[Measure.ANKLE_BRACHIAL_INDEX]:
        if band.code == "NON_COMPRESSIBLE":
            highest = Decimal(band.lo - 1) / 100
            words = f"ankle above {highest:.2f}: too stiff to measure"
            limits.append(Limit(Measure.ANKLE_BRACHIAL_INDEX, highest, words))
    for measure, short, name in (
        (Measure.ANKLE_PRESSURE, "ankle", "urgent_ankle_mmhg"),
        (Measure.TOE_PRESSURE, "toe", "urgent_toe_mmhg"),
    ):
        threshold = criteria.thresholds.get(name)
        if threshold:
            value, beneath = Decimal(threshold.limit), str(threshold.words)
            limits.append(Limit(measure, value, f"{short} {beneath}: urgent", beneath, value))
    return tuple(limits)


def sources_of(criteria: Criteria) -> tuple[str, ...]:
    """The studies behind the published noise of every measure, by hand and automated, in full."""
    noises = (noise_of_change(measure, way, criteria) for measure in Measure for way in ("", "oscillometric"))
    named = dict.fromkeys(noise.source for noise in noises if not isinstance(noise, NotStated))
    return tuple(f"{key}: {criteria.sources[key].title}" for key in named if key in criteria.sources)


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


def _limb(
    records: Sequence[ExamRecord],
    side: Side,
    events: tuple[Event, ...],
    criteria: Criteria,
    limits: Sequence[Limit],
    zone: tzinfo,
    today: date,
    own: Sequence[OwnNoise],
) -> LimbYears:
    by_id = {record.exam_id: record for record in records}
    dated = [DatedExam(record.on, record.interpretation) for record in records]
    cores = [event.core for event in events if event.core]
    series, changes = {}, {}
    for measure in Measure:
        between = _reasons_between(by_id, side, measure, cores)
        seen = (seen_of(record, side, measure, zone, limits) for record in records)
        series[measure] = join(measure, seen, between)
        found = change_of(series[measure], dated, side, events, criteria, limits, today, own)
        if found:
            changes[measure] = found
    return LimbYears(side.word, series, events, changes, baseline_words(events, side, today))


def baseline_words(events: Sequence[Event], side: Side, today: date) -> str:
    """Since when numbers count anew, as said on a day; "" where no vessel was treated."""
    standing = limb_standing([event.core for event in events if event.core], side, today)
    if standing.baseline is None or standing.days_since_baseline is None:
        return ""
    fewest, most = standing.days_since_baseline
    days = f"{fewest} days ago" if fewest == most else f"{fewest} to {most} days ago"
    return f"New baseline: {standing.baseline.words_dated}, {days}. Older values are from before it."


def _reasons_between(
    by_id: Mapping[int, ExamRecord], side: Side, measure: Measure, events: Sequence[LimbEvent]
) -> ReasonsBetween:
    def reasons(earlier: Point, later: Point) -> tuple[str, ...]:
        was, now = by_id[earlier.exam_id], by_id[later.exam_id]
        breaks = breaks_between(events, side, sites_of(was, side, measure), was.on, now.on)
        return comparability(was.interpretation, now.interpretation, side, measure, breaks=breaks)

    return reasons


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
