"""What the page's script draws: plain lists and strings, every word already chosen here.

Two figures (pressures, indices) with a panel a limb. The panels of one figure share both scales, so that
RIGHT and LEFT can be compared by eye.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from html import escape
from math import ceil
from typing import Any

from reports.timeline.places import Taken, free_height
from reports.timeline.series import Absence, Break, Measure, NoValue, Point, Seen, Series, day
from reports.timeline.years import Event, InError, LimbYears, Noise, Years

NAMES = {
    Measure.ANKLE_PRESSURE: "ankle pressure",
    Measure.TOE_PRESSURE: "toe pressure",
    Measure.ANKLE_BRACHIAL_INDEX: "ankle-brachial index",
    Measure.TOE_BRACHIAL_INDEX: "toe-brachial index",
}
FIGURES = {
    "pressures": (Measure.ANKLE_PRESSURE, Measure.TOE_PRESSURE),
    "indices": (Measure.ANKLE_BRACHIAL_INDEX, Measure.TOE_BRACHIAL_INDEX),
}
TITLES = {"pressures": "Pressures, mmHg", "indices": "Indices"}
# The highest value of an empty scale, and the step by which it grows.
SCALES = {"pressures": (Decimal(180), Decimal(20)), "indices": (Decimal("1.6"), Decimal("0.2"))}
# A treated vessel starts the numbers of its limb anew.
BASELINE = "revascularisation"
LANES = {
    "open_wound": "wound",
    "gangrene": "gangrene",
    "rest_pain": "rest pain",
    "foot_infection": "infection",
    "charcot": "Charcot foot",
    "oedema": "swelling",
    "revascularisation": "treated",
    "amputation": "amputation",
    "fistula": "fistula",
    "dialysis": "dialysis",
    "arrhythmia": "heartbeat",
}


def drawn(years: Years) -> dict[str, Any]:
    """Both figures of both limbs, ready for JSON."""
    return {
        "across": _time_scale(years),
        "today": years.today.isoformat(),
        "lanes": _lanes(years),
        "figures": [_figure(key, years) for key in FIGURES],
    }


def break_numbers(limb: LimbYears) -> dict[tuple[Measure, int], int]:
    """The number each break of a limb carries in figure, list and table: oldest first within a measure.

    Keyed by measure and the exam after the break.
    """
    ends = [(measure, gap.after.exam_id) for measure in Measure for gap in limb.series[measure].breaks]
    return {end: number for number, end in enumerate(ends, start=1)}


def _figure(key: str, years: Years) -> dict[str, Any]:
    measures = FIGURES[key]
    return {
        "key": key,
        "title": TITLES[key],
        "top": float(_top(key, years)),
        "limits": [
            {"measure": limit.measure, "value": float(limit.value), "words": limit.words}
            for limit in years.limits
            if limit.measure in measures
        ],
        "panels": [_panel(limb, key, years) for limb in years.limbs],
    }


def _panel(limb: LimbYears, key: str, years: Years) -> dict[str, Any]:
    measures = FIGURES[key]
    numbers = break_numbers(limb)
    heights = _break_heights(limb, key, years)
    return {
        "limb": limb.key,
        "word": limb.word,
        "series": [_series(limb.series[measure], numbers, heights) for measure in measures],
        "noises": [
            _noise(measure, change.noise)
            for measure, change in limb.changes.items()
            if measure in measures and change.noise
        ],
        "exams": _exams(limb, measures),
        "in_error": [
            {"at": _on_axis(one.at), "words": _hover([in_error_words(one)])} for one in years.in_error
        ],
        "events": [_event(event, years.today) for event in limb.events],
    }


def _series(
    series: Series, numbers: dict[tuple[Measure, int], int], heights: dict[tuple[Measure, int], float]
) -> dict[str, Any]:
    name = NAMES[series.measure]
    ends = [(series.measure, gap.after.exam_id) for gap in series.breaks]
    return {
        "measure": series.measure,
        "name": name,
        "stretches": [[_point(name, one) for one in run] for run in series.stretches],
        "breaks": [
            _break(name, gap, numbers[end], heights[end])
            for gap, end in zip(series.breaks, ends, strict=True)
        ],
        "open_topped": [
            {
                "at": _on_axis(one.at),
                # Without a cuff pressure (an index, or none noted) the mark stands at the top edge.
                "value": None if one.cuff_mmhg is None else float(one.cuff_mmhg),
                "words": _words(name, one),
            }
            for one in series.absences
            if one.absence is Absence.NOT_OCCLUDABLE
        ],
        "no_signal": [
            {"at": _on_axis(one.at), "words": _words(name, one)}
            for one in series.absences
            if one.absence is Absence.NO_SIGNAL
        ],
    }


def _point(name: str, one: Point) -> dict[str, Any]:
    low, high = one.interval or (None, None)
    return {
        "at": _on_axis(one.at),
        "value": float(one.value),
        "up": None if high is None else float(high - one.value),
        "down": None if low is None else float(one.value - low),
        "words": _words(name, one),
    }


def _break(name: str, gap: Break, number: int, height: float) -> dict[str, Any]:
    return {
        "at": _on_axis(gap.at),
        "height": height,
        "number": number,
        "words": _hover([f"Break {number}, {name}", *gap.reasons]),
    }


def _break_heights(limb: LimbYears, key: str, years: Years) -> dict[tuple[Measure, int], float]:
    """Where the number of each break stands: halfway between its two values, or the nearest free height.

    Two exams a week apart leave no room between them, and would lie under the number.
    """
    first, last = (date.fromisoformat(day) for day in _time_scale(years))
    top = _top(key, years)

    def across(at: datetime) -> float:
        return (at.date() - first) / (last - first)

    taken = [
        Taken(across(one.at), float(min(heights) / top), float(max(heights) / top))
        for measure in FIGURES[key]
        for one in limb.series[measure].seen
        if (heights := _heights(one))
    ]
    found = {}
    for measure in FIGURES[key]:
        for gap in limb.series[measure].breaks:
            height = free_height(across(gap.at), float(gap.height / top), taken)
            taken.append(Taken(across(gap.at), height, height))
            found[measure, gap.after.exam_id] = height * float(top)
    return found


def _words(name: str, one: Seen) -> str:
    if isinstance(one, NoValue):
        return _hover([f"{day(one.at)}, {name}", one.because])
    interval = f" ({one.interval_shown})" if one.interval else ""
    return _hover([f"{day(one.at)}, {name} {one.shown}{interval}", one.band_words, one.how, *_chances(one)])


def _chances(one: Point) -> list[str]:
    return [f"chance to be {said}" for said in one.chances]


def _on_axis(at: datetime) -> str:
    """The clinic's wall clock: the chart library knows no zones."""
    return f"{at:%Y-%m-%dT%H:%M}"


def _hover(lines: Iterable[str]) -> str:
    """Lines for the chart library, which reads markup: what a person typed must stay text."""
    return "<br>".join(escape(line, quote=False) for line in lines if line)


def _noise(measure: Measure, noise: Noise) -> dict[str, Any]:
    return {
        "measure": measure,
        "from": noise.start.isoformat(),
        "to": noise.end.isoformat(),
        "low": float(noise.low),
        "high": float(noise.high),
    }


def _exams(limb: LimbYears, measures: tuple[Measure, ...]) -> list[dict[str, Any]]:
    """A tick an exam; crossed where a measure of this figure has no value."""
    rows: dict[int, list[tuple[Measure, Seen]]] = {}
    for measure in measures:
        for one in limb.series[measure].seen:
            rows.setdefault(one.exam_id, []).append((measure, one))
    return [
        {
            "at": _on_axis(found[0][1].at),
            "whole": all(isinstance(one, Point) for _, one in found),
            "words": _hover(_exam_words(measure, one) for measure, one in found),
        }
        for found in rows.values()
    ]


def _exam_words(measure: Measure, one: Seen) -> str:
    return f"{day(one.at)}, {NAMES[measure]}: {one.shown if isinstance(one, Point) else one.because}"


def _event(event: Event, today: date) -> dict[str, Any]:
    return {
        "kind": event.kind,
        "from": event.start.isoformat(),
        "to": (event.end or (event.start if event.once else today)).isoformat(),
        "ended": event.once or event.end is not None,
        "once": event.once,
        # A vessel that was treated starts the numbers anew: a line through the plot.
        "baseline": event.kind == BASELINE,
        "words": _hover([dated_words(event)]),
    }


def in_error_words(one: InError) -> str:
    """ "Exam of 3 Mar 2025 entered in error: …"; it stands in no line and is counted nowhere."""
    return f"Exam of {day(one.at)} entered in error, counted nowhere: {one.words}"


def dated_words(event: Event) -> str:
    """ "Open wound from 3 Mar 2024 to 1 Jun 2024: heel"; what was done once has one date."""
    began = event.dated or day(event.start)
    note = f": {event.note}" if event.note else ""
    if event.once:
        return f"{event.words}, {began}{note}"
    until = f" to {day(event.end)}" if event.end else ", not ended"
    return f"{event.words} from {began}{until}{note}"


def _lanes(years: Years) -> list[dict[str, str]]:
    kinds = {event.kind for limb in years.limbs for event in limb.events}
    return [{"kind": kind, "words": words} for kind, words in LANES.items() if kind in kinds]


def _time_scale(years: Years) -> list[str]:
    """From the first exam or event to today, with a little air; at least a year wide."""
    days = [one.at.date() for limb in years.limbs for series in limb.series.values() for one in series.seen]
    days += [event.start for limb in years.limbs for event in limb.events]
    days += [one.at.date() for one in years.in_error]
    last = max([*days, years.today])
    first = min([*days, last - timedelta(days=365)])
    air = (last - first) * 0.04
    return [(first - air).isoformat(), (last + air).isoformat()]


def _top(key: str, years: Years) -> Decimal:
    lowest_top, step = SCALES[key]
    reached = [
        height
        for limb in years.limbs
        for measure in FIGURES[key]
        for one in limb.series[measure].seen
        for height in _heights(one)
    ]
    # Half a step of air, so that an open top or a whisker does not end at the edge.
    return max(lowest_top, step * ceil(max(reached, default=Decimal(0)) / step + Decimal("0.5")))


def _heights(one: Seen) -> tuple[Decimal, ...]:
    if isinstance(one, NoValue):
        return () if one.cuff_mmhg is None else (one.cuff_mmhg,)
    return (one.value, *(one.interval or ()))
