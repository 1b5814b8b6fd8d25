"""A limb over the years as its report freezes it: against the last comparable exam, and the trend. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from reports.documents.assemble import label
from reports.documents.content import (
    ChangeRow,
    Comparison,
    TrendEvent,
    TrendLimit,
    TrendNoise,
    TrendPanel,
    TrendPoint,
    TrendSeries,
)
from reports.timeline.figure import BASELINE, FIGURES, LANES, NAMES, dated_words
from reports.timeline.series import Absence, Measure, NoValue, Point, Series, day
from reports.timeline.years import Event, LimbYears, Years

UNITS = {"pressures": "mmHg", "indices": "index"}


def comparisons(years: Years, exam_id: int) -> tuple[Comparison, ...]:
    """Each limb against its last comparable exam, or why there is none (item 18)."""
    return tuple(_comparison(limb, exam_id) for limb in years.limbs)


def trend(years: Years) -> tuple[TrendPanel, ...]:
    """Pressures and indices of each limb up to this exam."""
    return tuple(
        TrendPanel(
            limb=limb.word,
            title="Pressures" if key == "pressures" else "Indices",
            unit=UNITS[key],
            series=tuple(_series(limb.series[measure]) for measure in FIGURES[key]),
            limits=tuple(
                TrendLimit(limit.value, limit.words)
                for limit in years.limits
                if limit.measure in FIGURES[key]
            ),
            events=tuple(
                _trend_event(event, years.today)
                for event in sorted(_known_by(limb.events, years.today), key=_by_lane)
            ),
            noises=tuple(
                TrendNoise(noise.start, noise.end, noise.low, noise.high)
                for measure in FIGURES[key]
                if (change := limb.changes.get(measure)) and (noise := change.noise)
            ),
        )
        for limb in years.limbs
        for key in FIGURES
    )


def _known_by(events: Iterable[Event], day: date) -> Iterator[Event]:
    """What had happened by the day of the exam; an end that came later had not come yet."""
    for event in events:
        if event.start <= day:
            yield event if event.once or event.end is None or event.end <= day else replace(event, end=None)


def _by_lane(event: Event) -> tuple[int, date]:
    return list(LANES).index(event.kind), event.start


def _trend_event(event: Event, day: date) -> TrendEvent:
    end = event.end or (event.start if event.once else day)
    return TrendEvent(
        lane=LANES[event.kind],
        start=event.start,
        end=min(end, day),
        lasts=not event.once and event.end is None,
        once=event.once,
        baseline=event.kind == BASELINE,
        words=dated_words(event),
    )


def _comparison(limb: LimbYears, exam_id: int) -> Comparison:
    found = (_change_row(measure, limb, exam_id) for measure in limb.series)
    rows = tuple(row for row in found if row is not None)
    if not rows:
        return Comparison(limb.word, "", none="No earlier value of this limb to compare with.")
    return Comparison(limb.word, "the last comparable exam", rows)


def _change_row(measure: Measure, limb: LimbYears, exam_id: int) -> ChangeRow | None:
    """Today's value against the last comparable one; None where there never was an earlier value."""
    series, change = limb.series[measure], limb.changes.get(measure)
    earlier = [one for one in series.points if one.exam_id != exam_id]
    if not earlier:
        return None
    today = next((one for one in series.seen if one.exam_id == exam_id), None)
    then, now, words = earlier[-1], "no value", "cannot be compared"
    if isinstance(today, NoValue):
        words = f"cannot be compared: {today.because}"
    elif isinstance(today, Point) and change is not None:
        now, words = today.shown, change.whole
        if change.since is not None:
            then = next(one for one in reversed(earlier) if one.at.date() == change.since)
    return ChangeRow(label(measure), f"{then.shown} on {day(then.at)}", now, words)


def _series(series: Series) -> TrendSeries:
    reasons = {gap.after.exam_id: "; ".join(gap.reasons) for gap in series.breaks}
    points = []
    for one in series.seen:
        if isinstance(one, Point):
            low, high = one.interval or (None, None)
            broken = reasons.get(one.exam_id, "")
            # Number and unit stay on one line of a narrow column.
            shown = one.shown.replace(" mmHg", "\N{NO-BREAK SPACE}mmHg")
            points.append(TrendPoint(one.at.date(), one.value, low, high, shown, broken))
        elif one.absence is not Absence.NOT_MADE:
            points.append(TrendPoint(one.at.date(), None, words=_without_value(series.measure, one)))
    return TrendSeries(NAMES[series.measure], tuple(points))


def _without_value(measure: Measure, seen: NoValue) -> str:
    """Why there is no value, as short as a narrow column needs; the readings say the rest."""
    if measure in (Measure.ANKLE_BRACHIAL_INDEX, Measure.TOE_BRACHIAL_INDEX):
        return "no index"
    if seen.absence is Absence.NO_SIGNAL:
        return "no signal"
    at = f" at {seen.cuff_mmhg.normalize():f}" if seen.cuff_mmhg is not None else ""
    return f"not occluded{at}"
