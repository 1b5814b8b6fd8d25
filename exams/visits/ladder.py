"""The pressure ladder: the sites of one limb from arm to toe, side by side on one mmHg scale.

Pure geometry: what stands at each site goes in, places to draw come out. The same figure is shown on the
screen and printed. Lengths are SVG user units (CSS px at natural size); y grows downwards.
"""

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from math import ceil

from exams.hemodynamics import Outcome, Side, Site

SCALE_LEFT = 34
PLOT_TOP = 30
PLOT_HEIGHT = 176
LABEL_ROOM = 34
MARGIN_RIGHT = 6
NATURAL_WIDTH = 340
LEAST_COLUMN = 50
MOST_COLUMN = 76
RUNG_SHARE = 0.64
BOX_SHARE = 0.94
REASON_LINES = 7
# Advances in the printed font at the size of the reason, measured: wide, narrow and other letters, the mean.
WIDE_LETTER, NARROW_LETTER, LETTER, MEAN_LETTER = 7.8, 2.8, 5.3, 4.6
NO_SIGNAL_HEIGHT = 30
TICK_MMHG = 50
LEAST_TOP_MMHG = 200


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands at one site.

    Attributes
    ----------
    site : Site
    outcome : Outcome
    mmhg : Decimal or None
        The pressure (the mean, where it was repeated); for ``not_occludable`` the cuff pressure reached.
    low, high : Decimal or None
        95 % interval of the pressure, mmHg.
    reason : str
        Why nothing was obtained, in words.
    absent : bool
        The part is not there (amputated): not the same as not obtained.
    """

    site: Site
    outcome: Outcome
    mmhg: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    reason: str = ""
    absent: bool = False

    @property
    def shown(self) -> str:
        """As written in the table twin: "132 mmHg", "cannot be occluded at 250 mmHg", …"""
        if self.absent:
            because = f": {self.reason}" if self.reason not in ("", "amputated") else ""
            return f"amputated or absent{because}"
        if self.outcome is Outcome.PRESSURE:
            return f"{_halves(self.mmhg)} mmHg"
        if self.outcome is Outcome.NOT_OCCLUDABLE:
            at = f" at {_whole(self.mmhg)} mmHg" if self.mmhg is not None else ""
            return f"cannot be occluded{at}"
        if self.outcome is Outcome.NO_SIGNAL:
            return "no signal"
        return f"not obtained: {self.reason}" if self.reason else "not obtained"

    @property
    def interval(self) -> str:
        """ "123 to 141 mmHg", or empty where there is none."""
        if self.outcome is not Outcome.PRESSURE or self.low is None or self.high is None:
            return ""
        return f"{_whole(self.low)} to {_whole(self.high)} mmHg"


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text to draw."""

    x: float
    y: float
    words: str


@dataclass(frozen=True, slots=True)
class Line:
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Tick:
    y: float
    text_y: float
    mmhg: int


@dataclass(frozen=True, slots=True)
class Place:
    """One column of the figure.

    ``kind`` is one of rung, open, no_signal, empty, absent. ``y`` is the height of the rung, or of the top of
    the box that stands in its stead.
    """

    kind: str
    standing: Standing
    left: float
    right: float
    centre: float
    width: float
    y: float
    height: float
    whisker: tuple[Line, ...]
    stiles: tuple[Line, ...]
    crosses: tuple[Line, ...]
    value: Text | None
    reason: tuple[Text, ...]
    label: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Ladder:
    """The figure of one limb, ready to draw."""

    key: str
    side: Side
    width: float
    height: float
    plot_top: float
    plot_left: float
    plot_right: float
    base: float
    ticks: tuple[Tick, ...]
    places: tuple[Place, ...]
    steps: tuple[str, ...]
    title: str
    description: str

    @property
    def scale_x(self) -> float:
        """Where the numbers of the scale end."""
        return self.plot_left - 5

    @property
    def standings(self) -> tuple[Standing, ...]:
        return tuple(place.standing for place in self.places)

    @property
    def wide(self) -> bool:
        """More sites than fit beside the other limb at a readable size."""
        return self.width > NATURAL_WIDTH


def ladders(right: Sequence[Standing], left: Sequence[Standing], key: str = "") -> tuple[Ladder, Ladder]:
    """Lay out both limbs, RIGHT first, on the same mmHg scale.

    Parameters
    ----------
    right, left : sequence of Standing
        In the order they are drawn, arm first.
    key : str
        Told apart from every other ladder of the same page ("exam-12"); part of the ids in the figure.
    """
    top_mmhg = _top_of_scale((*right, *left))
    columns = max(len(right), len(left), 1)
    fitting = (NATURAL_WIDTH - SCALE_LEFT - MARGIN_RIGHT) / columns
    column = min(max(LEAST_COLUMN, fitting), MOST_COLUMN)
    return (
        _limb(Side.RIGHT, right, key, top_mmhg, column, columns),
        _limb(Side.LEFT, left, key, top_mmhg, column, columns),
    )


def _limb(
    side: Side, standings: Sequence[Standing], key: str, top_mmhg: int, column: float, columns: int
) -> Ladder:
    places = tuple(
        _place(standing, SCALE_LEFT + column * index, column, top_mmhg)
        for index, standing in enumerate(standings)
    )
    plot_right = max(SCALE_LEFT + column * columns, NATURAL_WIDTH - MARGIN_RIGHT)
    ticks = tuple(
        Tick(y=_y(mmhg, top_mmhg), text_y=_y(mmhg, top_mmhg) + 3.5, mmhg=mmhg)
        for mmhg in range(0, top_mmhg + 1, TICK_MMHG)
    )
    return Ladder(
        key=f"{key}-{side.value}" if key else side.value,
        side=side,
        width=_tidy(plot_right + MARGIN_RIGHT),
        height=PLOT_TOP + PLOT_HEIGHT + LABEL_ROOM,
        plot_top=PLOT_TOP,
        plot_left=SCALE_LEFT,
        plot_right=_tidy(plot_right),
        base=PLOT_TOP + PLOT_HEIGHT,
        ticks=ticks,
        places=places,
        steps=_steps(places),
        title=_told(side, standings),
        description="One column a site, on one mmHg scale for both limbs; uprights are 95 % intervals.",
    )


def _top_of_scale(standings: Iterable[Standing]) -> int:
    highest = max(
        (value for one in standings for value in (one.mmhg, one.high) if value is not None),
        default=Decimal(0),
    )
    return max(LEAST_TOP_MMHG, ceil(highest / TICK_MMHG) * TICK_MMHG)


def _place(standing: Standing, left: float, column: float, top_mmhg: int) -> Place:
    centre = left + column / 2
    base = PLOT_TOP + PLOT_HEIGHT
    kind = _kind(standing)
    half = column * (BOX_SHARE if kind in {"open", "empty"} else RUNG_SHARE) / 2
    box_top = PLOT_TOP + 6.0
    y = box_top
    whisker: tuple[Line, ...] = ()
    stiles: tuple[Line, ...] = ()
    crosses: tuple[Line, ...] = ()
    value = None
    reason: tuple[Text, ...] = ()
    if kind == "rung":
        y = _y(standing.mmhg, top_mmhg)
        whisker = _whisker(standing, centre, top_mmhg)
        highest = min([y, *(line.y1 for line in whisker), *(line.y2 for line in whisker)])
        stiles = (_line(centre - half, y, centre - half, base), _line(centre + half, y, centre + half, base))
        value = _text(centre, highest - 6, _halves(standing.mmhg))
    elif kind == "open":
        # Nothing closes the top: the true pressure is somewhere above, or the artery is stiff.
        y = _y(standing.mmhg if standing.mmhg is not None else top_mmhg, top_mmhg)
        stiles = (
            _line(centre - half, y - 18, centre - half, base),
            _line(centre + half, y - 18, centre + half, base),
        )
        words = "cannot be occluded" + (f" at {_whole(standing.mmhg)}" if standing.mmhg is not None else "")
        reason = _wrapped(words, centre, y + 16, 2 * half)
    elif kind == "no_signal":
        y = base - NO_SIGNAL_HEIGHT
        reason = (_text(centre, y - 17, "no"), _text(centre, y - 6, "signal"))
    elif kind == "absent":
        crosses = (
            _line(centre - half, box_top, centre + half, base),
            _line(centre + half, box_top, centre - half, base),
        )
    else:
        words = f"not obtained: {standing.reason}" if standing.reason else "not obtained"
        reason = _wrapped(words, centre, box_top + 16, 2 * half)
    return Place(
        kind=kind,
        standing=standing,
        left=_tidy(centre - half),
        right=_tidy(centre + half),
        centre=_tidy(centre),
        width=_tidy(2 * half),
        y=_tidy(y),
        height=_tidy(base - y),
        whisker=whisker,
        stiles=stiles,
        crosses=crosses,
        value=value,
        reason=reason,
        label=_label(standing, centre, base),
    )


def _kind(standing: Standing) -> str:
    if standing.absent:
        return "absent"
    return {
        Outcome.PRESSURE: "rung",
        Outcome.NOT_OCCLUDABLE: "open",
        Outcome.NO_SIGNAL: "no_signal",
        Outcome.NOT_OBTAINED: "empty",
    }[standing.outcome]


def _whisker(standing: Standing, centre: float, top_mmhg: int) -> tuple[Line, ...]:
    if standing.low is None or standing.high is None:
        return ()
    low, high = _y(max(standing.low, Decimal(0)), top_mmhg), _y(standing.high, top_mmhg)
    return (
        _line(centre, high, centre, low),
        _line(centre - 5, high, centre + 5, high),
        _line(centre - 5, low, centre + 5, low),
    )


def _label(standing: Standing, centre: float, base: float) -> tuple[Text, ...]:
    words = standing.site.words.split(" ")
    if standing.absent:
        words = [standing.site.words, "amputated"]
    return tuple(_text(centre, base + 13 + 12 * row, word) for row, word in enumerate(words))


def _wrapped(words: str, centre: float, y: float, width: float) -> tuple[Text, ...]:
    letters = max(8, int((width - 3) / MEAN_LETTER))
    lines = textwrap.wrap(words, letters, break_on_hyphens=False)
    while letters > 8 and any(_advance(line) > width - 3 for line in lines):
        letters -= 1
        lines = textwrap.wrap(words, letters, break_on_hyphens=False)
    if len(lines) > REASON_LINES:
        lines = [*lines[: REASON_LINES - 2], "… (see", "table)"]
    return tuple(_text(centre, y + 11 * row, line) for row, line in enumerate(lines))


def _advance(line: str) -> float:
    """How wide a line of a reason is set, in units of the figure."""
    return sum(WIDE_LETTER if one in "mw" else NARROW_LETTER if one in " fijlrt" else LETTER for one in line)


def _steps(places: Sequence[Place]) -> tuple[str, ...]:
    """SVG path data from rung to neighbouring rung: level, then down or up. A gap breaks the ladder."""
    steps = []
    for here, there in pairwise(places):
        if here.kind == there.kind == "rung":
            middle = _tidy((here.right + there.left) / 2)
            steps.append(f"M{here.right} {here.y}H{middle}V{there.y}H{there.left}")
    return tuple(steps)


def _told(side: Side, standings: Sequence[Standing]) -> str:
    """The figure in words: what a screen reader and the printed page's alternative text say."""
    if not standings:
        return f"{side.word} pressure ladder: no site was planned or measured."
    parts = []
    for one in standings:
        interval = f" ({one.interval})" if one.interval else ""
        parts.append(f"{one.site.words} {one.shown}{interval}")
    return f"{side.word} pressure ladder: {'; '.join(parts)}."


def _y(mmhg: Decimal | int | None, top_mmhg: int) -> float:
    share = float(mmhg or 0) / top_mmhg
    return _tidy(PLOT_TOP + PLOT_HEIGHT * (1 - share))


def _halves(mmhg: Decimal | None) -> str:
    """As the finding says it: 27.5 beside a limit of 30 is not 28."""
    return "" if mmhg is None else f"{mmhg.normalize():f}"


def _whole(mmhg: Decimal | None) -> str:
    """The ends of an interval, to the nearest mmHg."""
    return "" if mmhg is None else str(int((mmhg * 2 + 1) // 2))


def _text(x: float, y: float, words: str) -> Text:
    return Text(_tidy(x), _tidy(y), words)


def _line(x1: float, y1: float, x2: float, y2: float) -> Line:
    return Line(_tidy(x1), _tidy(y1), _tidy(x2), _tidy(y2))


def _tidy(length: float) -> float:
    return round(length, 1)
