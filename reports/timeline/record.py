"""From the stored exams to the four series of each limb. Pure: exams in, frozen values out."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal

from exams.hemodynamics import (
    ANKLE_SITES,
    TOE_SITES,
    Criteria,
    Finding,
    Interpretation,
    Interval,
    NotStated,
    Outcome,
    Side,
    change_between,
    comparability,
)
from exams.visits.history import ExamRecord, LimbRecord, ReadingLine
from reports.timeline.figure import NAMES
from reports.timeline.series import (
    Absence,
    Measure,
    NoValue,
    Point,
    ReasonsBetween,
    Seen,
    Series,
    day,
    join,
)
from reports.timeline.years import Change, Event, LimbYears, Limit, Noise, Years

ANKLE_MEASURES = (Measure.ANKLE_PRESSURE, Measure.ANKLE_BRACHIAL_INDEX)
INDEX_MEASURES = (Measure.ANKLE_BRACHIAL_INDEX, Measure.TOE_BRACHIAL_INDEX)
REMARKS = {"COLD_TOE": "cold toe", "PROVISIONAL": "provisional", "ONE_ARTERY": "one ankle artery only"}
NO_ANKLE_NOISE = "no published noise for an ankle pressure alone, go by the index"
# The findings that these pages read, so that the rest of two hundred exams stays in the database.
FINDINGS_READ = frozenset({*Measure, "position", "pattern", "urgency", "arm_used"})


def years_of(
    records: Sequence[ExamRecord],
    events: Mapping[Side, tuple[Event, ...]],
    criteria: Criteria,
    zone: tzinfo,
    today: date,
) -> Years:
    """Both limbs over all the exams of one patient, in the clinic's time."""
    measured = [record for record in records if record.right.readings or record.left.readings]
    right, left = (
        _limb(measured, side, events.get(side, ()), criteria, zone) for side in (Side.RIGHT, Side.LEFT)
    )
    return Years((right, left), limits_of(criteria), criteria.label, today)


def limits_of(criteria: Criteria) -> tuple[Limit, ...]:
    """The limits of the criteria that are drawn as named lines."""
    limits = []
    for measure, short in ((Measure.ANKLE_BRACHIAL_INDEX, "ankle"), (Measure.TOE_BRACHIAL_INDEX, "toe")):
        highest = Decimal(criteria.abnormal_hi(measure)) / 100
        limits.append(Limit(measure, highest, f"{short} {highest:.2f} or below: reduced"))
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
            limits.append(Limit(measure, Decimal(threshold.limit), f"{short} {threshold.words}: urgent"))
    return tuple(limits)


def seen_of(record: ExamRecord, side: Side, measure: Measure, zone: tzinfo) -> Seen:
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
    )


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
    records: Sequence[ExamRecord], side: Side, events: tuple[Event, ...], criteria: Criteria, zone: tzinfo
) -> LimbYears:
    by_id = {record.exam_id: record.interpretation for record in records}
    series, changes = {}, {}
    for measure in Measure:
        between = _reasons_between(by_id, side, measure)
        series[measure] = join(measure, (seen_of(record, side, measure, zone) for record in records), between)
        found = _change(series[measure], between, by_id, side, criteria)
        if found:
            changes[measure] = found
    return LimbYears(side.word, series, events, changes)


def _reasons_between(by_id: Mapping[int, Interpretation], side: Side, measure: Measure) -> ReasonsBetween:
    def reasons(earlier: Point, later: Point) -> tuple[str, ...]:
        return comparability(by_id[earlier.exam_id], by_id[later.exam_id], side, measure)

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
    """The toe, the technique and, for an index, the arms: what makes two values comparable."""
    words = []
    if measure not in ANKLE_MEASURES and limb.toe:
        words.append(limb.toe.words)
    code = limb.ankle_technique if measure in ANKLE_MEASURES else limb.toe_technique
    words += {reading.technique_words for reading in _readings(limb, measure) if reading.technique == code}
    if measure in INDEX_MEASURES:
        words.append(_arms(record.arms))
    return words


def _remarks(finding: Finding) -> list[str]:
    """What makes the value itself doubtful, said wherever the value is."""
    return [words for flag, words in REMARKS.items() if flag in finding.flags]


def _arms(arms: frozenset[Side]) -> str:
    if len(arms) == 2:
        return "both arms"
    return "".join(f"{arm.word} arm only" for arm in arms)


def _change(
    series: Series,
    between: ReasonsBetween,
    by_id: Mapping[int, Interpretation],
    side: Side,
    criteria: Criteria,
) -> Change | None:
    """The newest value against the last comparable one; None where there is nothing earlier at all."""
    if len(series.points) < 2:
        return None
    *earlier_points, newest = series.points
    gap = next((gap for gap in series.breaks if gap.after is newest), None)
    skipped = gap.reasons if gap else ()
    last = next((one for one in reversed(earlier_points) if not between(one, newest)), None)
    if last is None:
        why = "; ".join(skipped)
        words = f"Cannot be compared with {day(earlier_points[-1].at)}: {why}"
        return Change(words, brief=f"Cannot be compared: {why}")
    if series.measure is Measure.ANKLE_PRESSURE:
        words = f"No verdict, {_when(last, newest)}: {last.shown} to {newest.shown}; {NO_ANKLE_NOISE}"
        brief = f"No verdict: {NO_ANKLE_NOISE}"
        return Change(words, since=last.at.date(), skipped=skipped, brief=brief)

    def against(one: Point) -> Change:
        finding = change_between(by_id[one.exam_id], by_id[newest.exam_id], side, series.measure, criteria)
        return _told(finding, one, newest, f"{side.word} {NAMES[series.measure]} ")

    over_years = against(series.stretches[-1][0]) if len(series.stretches[-1]) > 2 else None
    return replace(
        against(last), skipped=skipped, over_years=over_years if over_years and over_years.is_beyond else None
    )


def _told(finding: Finding, earlier: Point, newest: Point, title: str) -> Change:
    verdict = _verdict(finding)
    sentence = finding.sentence.removeprefix(title)
    return Change(
        f"{verdict.capitalize()}, {_when(earlier, newest)}: {sentence}",
        verdict,
        earlier.at.date(),
        _noise(finding, earlier, newest),
        brief=_brief(finding, verdict),
    )


def _brief(finding: Finding, verdict: str) -> str:
    """ "Likely fall: down 33.5 mmHg, repeats differ by 26 mmHg"."""
    if isinstance(finding.value, NotStated) or isinstance(finding.interval, NotStated):
        return finding.sentence
    unit = " mmHg" if finding.unit == "mmHg" else ""
    half = (finding.interval.high - finding.interval.low) / 2
    noise = half.normalize() if unit else half
    direction = "up" if finding.value > 0 else "down" if finding.value < 0 else "unchanged"
    size = f" {abs(finding.value)}{unit}" if finding.value else ""
    return f"{verdict.capitalize()}: {direction}{size}, repeats differ by {noise:f}{unit}"


def _when(earlier: Point, later: Point) -> str:
    return f"{day(earlier.at)} to {day(later.at)}"


def _verdict(finding: Finding) -> str:
    if isinstance(finding.value, NotStated):
        return "not comparable"
    if finding.band == "WITHIN_NOISE":
        return "within noise"
    return "likely fall" if finding.value < 0 else "likely rise"


def _noise(finding: Finding, earlier: Point, newest: Point) -> Noise | None:
    """The earlier value, less and plus the smallest change that counts."""
    if isinstance(finding.interval, NotStated):
        return None
    half = (finding.interval.high - finding.interval.low) / 2
    return Noise(earlier.at.date(), newest.at.date(), earlier.value - half, earlier.value + half)
