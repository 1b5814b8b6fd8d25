"""The printed trend: where each mark, line, limit and word of a limb's years stands on paper.

Pure geometry over frozen content. Panels share the time scale, and panels of one unit share the height, so
that RIGHT and LEFT can be compared by eye. Lengths are SVG user units; y grows downwards.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise
from math import ceil

from reports.documents.content import TrendEvent, TrendNoise, TrendPanel, TrendPoint, TrendSeries
from reports.timeline.places import GAP, names_beside

WIDTH = 340.0
HEIGHT = 178.0
LEFT, RIGHT = 34.0, 262.0
TOP, BASE = 34.0, 152.0
LEAST_TOP = {"mmHg": Decimal(150), "index": Decimal("1.6")}
STEP = {"mmHg": Decimal(50), "index": Decimal("0.2")}
# As on the screen: the ankle, first of a panel, full circles on a whole line; the toe, squares on dashes.
LOOKS = (("circle", ""), ("square", "4 3"), ("triangle", "1 3"))
LEAST_DAYS = 60
LINE_OF_WORDS = 9.0
LETTERS_OF_A_LIMIT = 18
# Under the years a lane for each kind of event, named beside the plot.
LANE = 11.0

Across = Callable[[date], float]
Upwards = Callable[[Decimal | None], float]


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    text_at: float
    words: str


@dataclass(frozen=True, slots=True)
class Mark:
    """One exam's value with its interval; ``shape`` is square, circle, triangle, or cross where no value."""

    shape: str
    x: float
    y: float
    low_y: float | None
    high_y: float | None


@dataclass(frozen=True, slots=True)
class DrawnSeries:
    name: str
    shape: str
    dashes: str
    legend_x: float
    legend_text_x: float
    paths: tuple[str, ...]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class DrawnBreak:
    x: float
    y: float
    number: int


@dataclass(frozen=True, slots=True)
class Words:
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class DrawnLane:
    """A kind of event: its name beside the plot, its bars as paths, its flags as filled paths."""

    name: Words
    bars: tuple[str, ...]
    flags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnLimit:
    """A named limit: its line, and its name beside the plot, one entry a line of words."""

    y: float
    words: tuple[Words, ...]


@dataclass(frozen=True, slots=True)
class DrawnPanel:
    """One panel, ready to draw."""

    key: str
    limb: str
    title: str
    unit: str
    across: tuple[Tick, ...]
    upwards: tuple[Tick, ...]
    limits: tuple[DrawnLimit, ...]
    series: tuple[DrawnSeries, ...]
    breaks: tuple[DrawnBreak, ...]
    noises: tuple[str, ...]
    baselines: tuple[float, ...]
    lanes: tuple[DrawnLane, ...]
    description: str
    height: float
    width: float = WIDTH
    left: float = LEFT
    right: float = RIGHT
    top: float = TOP
    base: float = BASE
    scale_x: float = LEFT - 5
    limit_x: float = RIGHT + 4
    year_y: float = BASE + 14


@dataclass(frozen=True, slots=True)
class TableRow:
    on: date
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrendTable:
    """The table twin of one limb's panels, newest first."""

    limb: str
    heads: tuple[str, ...]
    rows: tuple[TableRow, ...]
    left_out: int


def draw(panels: Sequence[TrendPanel]) -> tuple[DrawnPanel, ...]:
    """Lay the panels out; none if no panel has two exams, since one point is no trend."""
    days = sorted({point.on for panel in panels for series in panel.series for point in series.points})
    if len(days) < 2:
        return ()
    tops = {panel.unit: _top(panel.unit, panels) for panel in panels}
    lanes = tuple(dict.fromkeys(event.lane for panel in panels for event in panel.events))
    first = min([days[0], *(event.start for panel in panels for event in panel.events)])
    numbers = {
        limb: {words: number for number, words in enumerate(found, start=1)} for limb, found in breaks(panels)
    }
    return tuple(
        _panel(index, panel, (first, days[-1]), tops[panel.unit], numbers[panel.limb], lanes)
        for index, panel in enumerate(panels)
    )


def breaks(panels: Sequence[TrendPanel]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each limb with the words of its breaks, in the order of their numbers.

    A pressure and its index break at once for one reason, which is then said once and has one number.
    """
    found: dict[str, dict[str, None]] = {panel.limb: {} for panel in panels}
    for panel in panels:
        for series in panel.series:
            for before, after in _broken(series):
                found[panel.limb][_break_words(before, after)] = None
    return tuple((limb, tuple(words)) for limb, words in found.items())


def _broken(series: TrendSeries) -> Iterator[tuple[TrendPoint, TrendPoint]]:
    valued = [point for point in series.points if point.value is not None]
    return ((before, after) for before, after in pairwise(valued) if after.broken)


def _break_words(before: TrendPoint, after: TrendPoint) -> str:
    return f"{_month(before.on)} to {_month(after.on)}: {after.broken}"


def _month(on: date) -> str:
    return f"{on:%b %Y}"


def flags(panels: Sequence[TrendPanel]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each limb with its events in words: the twin of the flags."""
    found: dict[str, dict[str, None]] = {panel.limb: {} for panel in panels}
    for panel in panels:
        found[panel.limb].update(dict.fromkeys(event.words for event in panel.events))
    return tuple((limb, tuple(words)) for limb, words in found.items())


def beside(panels: Sequence[DrawnPanel]) -> tuple[tuple[DrawnPanel, ...], ...]:
    """Panels of one title side by side, RIGHT and LEFT."""
    titles = dict.fromkeys(panel.title for panel in panels)
    return tuple(tuple(one for one in panels if one.title == title) for title in titles)


def tables(panels: Sequence[TrendPanel], most: int = 6) -> tuple[TrendTable, ...]:
    """One table a limb with every series of it; at most ``most`` exams, the newest."""
    limbs = dict.fromkeys(panel.limb for panel in panels)
    return tuple(_table(limb, [one for one in panels if one.limb == limb], most) for limb in limbs)


def _table(limb: str, panels: Sequence[TrendPanel], most: int) -> TrendTable:
    series = [(panel.unit, one) for panel in panels for one in panel.series]
    days = sorted({point.on for _, one in series for point in one.points}, reverse=True)
    rows = tuple(TableRow(day, tuple(_cell(unit, one, day) for unit, one in series)) for day in days[:most])
    return TrendTable(limb, tuple(one.name for _, one in series), rows, max(len(days) - most, 0))


def _cell(unit: str, series: TrendSeries, day: date) -> str:
    found = [point for point in series.points if point.on == day]
    return "; ".join(point.words for point in found) if found else "not measured"


def _panel(
    index: int,
    panel: TrendPanel,
    ends: tuple[date, date],
    top: Decimal,
    numbers: Mapping[str, int],
    lanes: Sequence[str],
) -> DrawnPanel:
    first, last = ends
    span = max((last - first).days, LEAST_DAYS)

    def x(on: date) -> float:
        return round(LEFT + 10 + (RIGHT - LEFT - 20) * (on - first).days / span, 1)

    def y(value: Decimal | None) -> float:
        if value is None:
            return BASE
        return round(BASE - (BASE - TOP) * float(min(max(value, Decimal(0)), top) / top), 1)

    series, gaps = [], []
    legend_x = LEFT
    for (shape, dashes), one in zip(LOOKS, panel.series, strict=False):
        marks = tuple(_mark(shape, point, x, y) for point in one.points)
        series.append(
            DrawnSeries(one.name, shape, dashes, legend_x + 8, legend_x + 18, _paths(one.points, x, y), marks)
        )
        legend_x += 26 + 5.4 * len(one.name)
        for before, after in _broken(one):
            gap_x = round((x(before.on) + x(after.on)) / 2, 1)
            gap_y = round((y(before.value) + y(after.value)) / 2, 1)
            gaps.append(DrawnBreak(gap_x, gap_y, numbers[_break_words(before, after)]))
    return DrawnPanel(
        key=f"trend-{index}",
        limb=panel.limb,
        title=panel.title,
        unit=panel.unit,
        across=_years(first, last, x),
        upwards=_scale(panel.unit, top, y),
        limits=_limits(panel, top, y),
        series=tuple(series),
        breaks=tuple(gaps),
        noises=tuple(_noise(one, x, y) for one in panel.noises),
        baselines=tuple(x(event.start) for event in panel.events if event.baseline),
        lanes=tuple(_lane(row, lane, panel, x) for row, lane in enumerate(lanes)),
        description=_describe(panel),
        height=HEIGHT + LANE * len(lanes),
    )


def _noise(noise: TrendNoise, x: Across, y: Upwards) -> str:
    return f"M{x(noise.start)} {y(noise.low)}V{y(noise.high)}H{x(noise.end)}V{y(noise.low)}Z"


def _lane(row: int, lane: str, panel: TrendPanel, x: Across) -> DrawnLane:
    y = HEIGHT + LANE * row
    bars, flags = [], []
    for event in panel.events:
        if event.lane == lane:
            start, end = x(event.start), x(event.end)
            if end > start:
                bars.append(f"M{start} {y}H{end}")
            flags += _flags(event, start, end, y)
    return DrawnLane(Words(y + 3, lane), tuple(bars), tuple(flags))


def _flags(event: TrendEvent, start: float, end: float, y: float) -> list[str]:
    """As on the screen: a diamond for what was done once, else a square and an end, or an arrow on."""
    if event.once:
        return [f"M{x} {y - 4}l4 4-4 4-4-4z" for x in dict.fromkeys((start, end))]
    return [
        f"M{start - 3} {y - 3}h6v6h-6z",
        f"M{end} {y - 4}l6 4-6 4z" if event.lasts else f"M{end} {y - 4}v8h1v-8z",
    ]


def _mark(shape: str, point: TrendPoint, x: Across, y: Upwards) -> Mark:
    if point.value is None:
        return Mark("cross", x(point.on), BASE, None, None)
    if point.low is None or point.high is None:
        return Mark(shape, x(point.on), y(point.value), None, None)
    return Mark(shape, x(point.on), y(point.value), y(point.low), y(point.high))


def _paths(points: Iterable[TrendPoint], x: Across, y: Upwards) -> tuple[str, ...]:
    """A path for each stretch that may be joined: a value after a break starts a new one."""
    paths: list[list[str]] = []
    for point in points:
        if point.value is None:
            continue
        here = f"{x(point.on)} {y(point.value)}"
        if point.broken or not paths:
            paths.append([here])
        else:
            paths[-1].append(here)
    return tuple(f"M{'L'.join(path)}" for path in paths if len(path) > 1)


def _top(unit: str, panels: Iterable[TrendPanel]) -> Decimal:
    reached = [
        value
        for panel in panels
        if panel.unit == unit
        for series in panel.series
        for point in series.points
        for value in (point.value, point.high)
        if value is not None
    ]
    step = STEP[unit]
    highest = max(reached, default=Decimal(0))
    return max(LEAST_TOP[unit], ceil(highest / step) * step)


def _scale(unit: str, top: Decimal, y: Upwards) -> tuple[Tick, ...]:
    step = STEP[unit] if top / STEP[unit] <= 8 else STEP[unit] * 2
    values = [step * number for number in range(int(top / step) + 1)]
    return tuple(Tick(y(value), y(value) + 3.5, f"{value:f}") for value in values)


def _years(first: date, last: date, x: Across) -> tuple[Tick, ...]:
    newyears = [date(year, 1, 1) for year in range(first.year + 1, last.year + 1)]
    if len(newyears) < 2:
        ends = [first, last]
        return tuple(Tick(x(day), x(day), _month(day)) for day in ends)
    every = -(-len(newyears) // 8)
    return tuple(Tick(x(day), x(day), str(day.year)) for day in newyears[::every])


def _limits(panel: TrendPanel, top: Decimal, y: Upwards) -> tuple[DrawnLimit, ...]:
    """The limits as lines, each with its name beside it."""
    within = [(y(limit.value), limit.words) for limit in panel.limits if limit.value <= top]
    # A report frozen before there were flags and noise is printed as it was: its names without a gap.
    gap = GAP if panel.noises or panel.events else 0
    names = names_beside(within, top=TOP, line=LINE_OF_WORDS, letters=LETTERS_OF_A_LIMIT, gap=gap)
    return tuple(DrawnLimit(name.y, tuple(Words(*line) for line in name.lines)) for name in names)


def _describe(panel: TrendPanel) -> str:
    parts = []
    for series in panel.series:
        values = "; ".join(f"{point.on.day} {point.on:%b %Y} {point.words}" for point in series.points)
        parts.append(f"{series.name}: {values or 'never measured'}")
    parts += [event.words for event in panel.events]
    return f"{panel.limb} {panel.title}. {'. '.join(parts)}. The same values are in the table below."
