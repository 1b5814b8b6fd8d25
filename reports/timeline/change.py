"""What has become of a measure, in words: the one place where a change is told.

The core judges (two visits for a trend word, the noise and its source, slope and crossing only where they are
earned); here its verdict becomes the sentence that patient page, summary, timeline and printed report share.
"""

from collections.abc import Collection, Sequence
from datetime import date
from decimal import Decimal

from exams.hemodynamics import (
    ChangeNoise,
    Criteria,
    Crossing,
    Found,
    LimbEvent,
    Line,
    NotStated,
    OwnNoise,
    RealChange,
    Side,
    Slope,
    Verdict,
    breaks_between,
    change_between,
    crossing_of,
    found_of,
    line_from,
    real_change,
    sites_of,
    slope_of,
)
from exams.visits.history import ExamRecord
from reports.timeline.series import Measure, Series, day
from reports.timeline.years import Change, Event, Forecast, Limit, Noise


def change_of(
    series: Series,
    found: Sequence[tuple[date, Found | None]],
    side: Side,
    events: Collection[Event],
    criteria: Criteria,
    limits: Collection[Limit],
    today: date,
    own: Sequence[OwnNoise] = (),
) -> Change | None:
    """The newest value of a measure against the earlier ones; None where there is nothing earlier at all."""
    if len(series.points) < 2:
        return None
    line = line_from(found, side, series.measure, [event.core for event in events if event.core])
    if isinstance(line, NotStated):
        return None
    judged = real_change(line, criteria, own)
    slope = slope_of(line.visits)
    return Change(
        verdict=judged.verdict,
        words=_words(judged, line),
        since=judged.since,
        noise=_noise(judged, line, series),
        skipped=_passed_over(judged, line),
        slope=_slope_words(slope, series.measure),
        forecasts=_forecasts(slope, judged.noise, series.measure, limits),
    ).as_of(today)


def _words(found: RealChange, line: Line) -> str:
    """ "Likely fall: −34 mmHg (interval −60 to −8) from 84 mmHg on 4 May 2023; repeats differ by …"."""
    if isinstance(found.difference, NotStated) or isinstance(found.interval, NotStated) or not found.since:
        return f"{_cannot(line, found)}."
    unit = " mmHg" if line.unit == "mmHg" else ""
    earlier = next(visit for visit in reversed(line.visits) if visit.on == found.since)
    verdict = _capital(found.verdict.words)
    says_what_next = found.verdict is Verdict.SEEN_ONCE
    said = (
        f"{verdict}{'. ' if says_what_next else ': '}{signed(found.difference)}{unit} "
        f"(interval {signed(found.interval.low)} to {signed(found.interval.high)}) "
        f"from {earlier.shown} on {day(found.since)}; {noise_words(found.noise, unit)}."
    )
    doubts = f" Doubtful: {'; '.join(found.cautions)}." if found.cautions else ""
    return f"{said}{doubts}"


def _cannot(line: Line, found: RealChange) -> str:
    # Why the other exams were left out comes first: "go by the index" helps nobody whose index has none.
    if line.skipped and len(line.visits) < 2:
        on, reasons = line.skipped[-1]
        return f"Cannot be compared with {day(on)} because: {'; '.join(reasons)}"
    if isinstance(found.noise, NotStated):
        return f"Cannot be compared because there is {found.noise.reason}"
    return "Cannot be compared because there is nothing earlier"


def between_two(
    earlier: ExamRecord,
    later: ExamRecord,
    side: Side,
    measure: Measure,
    events: Sequence[LimbEvent],
    criteria: Criteria,
    own: Sequence[OwnNoise] = (),
) -> str:
    """Any two exams: by how much a measure differs, against the noise. Two exams alone earn no trend word."""
    was, now = earlier.interpretation, later.interpretation
    first = found_of(was, side, measure)
    sites = sites_of(first) if first else ()
    breaks = breaks_between(events, side, sites, earlier.on, later.on)
    found = change_between(was, now, side, measure, criteria, own=own, breaks=breaks)
    if isinstance(found.value, NotStated) or isinstance(found.interval, NotStated):
        why = found.value.reason if isinstance(found.value, NotStated) else found.shown
        return f"Cannot be compared because: {why}."
    unit = " mmHg" if found.unit == "mmHg" else ""
    reach = found.interval.high - found.value
    interval = f"interval {signed(found.interval.low)} to {signed(found.interval.high)}"
    return (
        f"{_capital(found.band_words)}: {signed(found.value)}{unit} ({interval}); "
        f"repeats differ by {_plain(reach)}{unit} ({found.source})."
    )


def noise_words(noise: ChangeNoise | NotStated, unit: str) -> str:
    """The noise and whose it is."""
    if isinstance(noise, NotStated):
        return noise.reason
    whose = noise.source if noise.is_own else f"published, {noise.source}"
    return f"repeats differ by {_plain(noise.limit)}{unit} ({whose})"


def signed(value: Decimal) -> str:
    """With a sign that cannot be taken for a dash: "−34", "+0.12", "0"."""
    if value == 0:
        return "0"
    return f"{'+' if value > 0 else '−'}{_plain(abs(value))}"


def _plain(value: Decimal) -> str:
    """Pressures without empty decimals; indices keep their two."""
    return f"{value:f}" if value != value.to_integral_value() else f"{value.quantize(Decimal(1)):f}"


def _noise(found: RealChange, line: Line, series: Series) -> Noise | None:
    """The value compared with, less and plus the smallest change that counts."""
    if isinstance(found.noise, NotStated) or found.since is None:
        return None
    earlier = next(one for one in reversed(series.points) if one.at.date() == found.since)
    reach = found.noise.limit
    return Noise(found.since, line.visits[-1].on, earlier.value - reach, earlier.value + reach)


def _passed_over(found: RealChange, line: Line) -> str:
    """The newest exam that lies between the two compared and was left out, and why."""
    if found.since is None:
        return ""
    nearer = [(on, reasons) for on, reasons in line.skipped if on > found.since]
    if not nearer:
        return ""
    on, reasons = nearer[-1]
    return f"{day(on)} was passed over: {'; '.join(reasons)}."


def _slope_words(slope: Slope | NotStated, measure: Measure) -> str:
    if isinstance(slope, NotStated):
        return f"No slope: {slope.reason}."
    unit, places = (" mmHg", 1) if measure.endswith("_pressure") else ("", 3)
    year, low, high = (
        signed(Decimal(part).quantize(Decimal(1).scaleb(-places)))
        for part in (slope.per_year, slope.low, slope.high)
    )
    doubt = "" if slope.excludes_zero else "; it may be nothing but noise"
    return (
        f"Slope {year}{unit} a year ({slope.level} % interval {low} to {high}), {slope.points} values from "
        f"{day(slope.start)} to {day(slope.end)}{doubt}."
    )


def _forecasts(
    slope: Slope | NotStated, noise: ChangeNoise | NotStated, measure: Measure, limits: Collection[Limit]
) -> tuple[Forecast, ...]:
    if isinstance(noise, NotStated):
        return ()
    found = ((limit, crossing_of(slope, float(limit.value), noise)) for limit in limits)
    return tuple(
        _forecast(limit, crossing)
        for limit, crossing in found
        if limit.measure is measure and isinstance(crossing, Crossing)
    )


def _forecast(limit: Limit, crossing: Crossing) -> Forecast:
    span = f"about {_month(crossing.on)}, from {_month(crossing.earliest)} "
    span += f"to {_month(crossing.latest)}" if crossing.latest else "with no end in sight"
    return Forecast(
        crossing.on,
        f"If it goes on like this, the limit “{limit.words}” is crossed {span}.",
        f"The limit “{limit.words}” would be reached by now ({span}): measure again.",
    )


def _month(on: date) -> str:
    return f"{on:%b %Y}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
