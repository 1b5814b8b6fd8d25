"""What the page's script draws: plain lists and strings, every word already chosen here.

Two figures (pressures, indices) with a panel a limb. The panels of one figure share both scales, so that
RIGHT and LEFT can be compared by eye.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal
from html import escape
from math import ceil
from typing import Any

from reports.timeline.series import Break, Kind, Measure, Seen, Series, day
from reports.timeline.years import Event, LimbYears, Years

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
LANES = {
    "open_wound": "wound",
    "rest_pain": "rest pain",
    "foot_infection": "infection",
    "toe_absent": "toe absent",
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
    gaps = [(measure, gap) for measures in FIGURES.values() for measure in measures for gap in limb.series[measure].breaks]
    return {(measure, gap.after.exam_id): number for number, (measure, gap) in enumerate(gaps, start=1)}


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
        "panels": [_panel(limb, measures, years) for limb in years.limbs],
    }


def _panel(limb: LimbYears, measures: tuple[Measure, ...], years: Years) -> dict[str, Any]:
    numbers = break_numbers(limb)
    return {
        "limb": limb.key,
        "word": limb.word,
        "series": [_series(limb.series[measure], numbers) for measure in measures],
        "noises": [
            {
                "measure": noise.measure,
                "from": noise.start.isoformat(),
                "to": noise.end.isoformat(),
                "low": float(noise.low),
                "high": float(noise.high),
            }
            for noise in limb.noises
            if noise.measure in measures
        ],
        "exams": _exams(limb, measures),
        "events": [_event(event, years.today) for event in limb.events],
    }


def _series(series: Series, numbers: dict[tuple[Measure, int], int]) -> dict[str, Any]:
    name = NAMES[series.measure]
    return {
        "measure": series.measure,
        "name": name,
        "stretches": [[_point(name, one) for one in run] for run in series.stretches],
        "breaks": [_break(name, gap, numbers[series.measure, gap.after.exam_id]) for gap in series.breaks],
        "open_topped": [
            {"at": one.at.isoformat(), "value": float(one.at_least), "words": _words(name, one)}
            for one in series.not_points
            if one.kind is Kind.NOT_OCCLUDABLE and one.at_least is not None
        ],
        "no_signal": [
            {"at": one.at.isoformat(), "words": _words(name, one)}
            for one in series.not_points
            if one.kind is Kind.NO_SIGNAL
        ],
    }


def _point(name: str, one: Seen) -> dict[str, Any]:
    assert one.value is not None
    return {
        "at": one.at.isoformat(),
        "value": float(one.value),
        "up": float(one.high - one.value) if one.high is not None else None,
        "down": float(one.value - one.low) if one.low is not None else None,
        "words": _words(name, one),
    }


def _break(name: str, gap: Break, number: int) -> dict[str, Any]:
    return {
        "at": gap.at.isoformat(),
        "height": float(gap.height),
        "number": number,
        "words": _hover([f"Break {number}, {name}", *gap.reasons]),
    }


def _words(name: str, one: Seen) -> str:
    if one.kind is not Kind.VALUE:
        return _hover([f"{day(one.at)}, {name}", one.because])
    interval = f" ({one.low} to {one.high})" if one.low is not None else ""
    return _hover([f"{day(one.at)}, {name} {one.shown}{interval}", one.band_words, one.how, *one.remarks])


def _hover(lines: Iterable[str]) -> str:
    """Lines for the chart library, which reads markup: what a person typed must stay text."""
    return "<br>".join(escape(line, quote=False) for line in lines if line)


def _exams(limb: LimbYears, measures: tuple[Measure, ...]) -> list[dict[str, Any]]:
    """A tick an exam; crossed where a measure of this figure has no value."""
    rows: dict[int, list[tuple[Measure, Seen]]] = {}
    for measure in measures:
        for one in limb.series[measure].seen:
            rows.setdefault(one.exam_id, []).append((measure, one))
    return [
        {
            "at": found[0][1].at.isoformat(),
            "whole": all(one.kind is Kind.VALUE for _, one in found),
            "words": _hover(
                f"{day(one.at)}, {NAMES[measure]}: {one.because or one.shown}" for measure, one in found
            ),
        }
        for found in rows.values()
    ]


def _event(event: Event, today: date) -> dict[str, Any]:
    until = f" to {day(event.end)}" if event.end else ", not ended"
    note = f": {event.note}" if event.note else ""
    return {
        "kind": event.kind,
        "from": event.start.isoformat(),
        "to": (event.end or today).isoformat(),
        "ended": event.end is not None,
        "words": _hover([f"{event.words} from {day(event.start)}{until}{note}"]),
    }


def _lanes(years: Years) -> list[dict[str, str]]:
    kinds = {event.kind for limb in years.limbs for event in limb.events}
    return [{"kind": kind, "words": words} for kind, words in LANES.items() if kind in kinds]


def _time_scale(years: Years) -> list[str]:
    """From the first exam or event to today, with a little air; at least a year wide."""
    days = [one.at.date() for limb in years.limbs for series in limb.series.values() for one in series.seen]
    days += [event.start for limb in years.limbs for event in limb.events]
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
        for height in (one.value, one.high, one.at_least)
        if height is not None
    ]
    highest = max(reached, default=Decimal(0))
    return max(lowest_top, step * ceil(highest / step + Decimal("0.5")))
