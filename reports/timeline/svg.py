"""One figure of the timeline as a file: what the page's script draws, laid out here. Pure.

Lengths are SVG user units; y grows downwards. RIGHT stands left of LEFT on the same scales.
"""

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from html import unescape
from typing import Any

from reports.timeline.places import names_beside

PANEL = 650.0
LEFT, RIGHT = 100.0, 470.0
# Beside the plot: first the word of a line that ends at the right edge, then the names of the limits.
NAMES_AT = 46.0
LETTERS_OF_A_NAME = 22
PLOT = 280.0
LANE = 20.0
LINE = 14.0
LETTERS = 84
# A figure that leaves the page takes along how its marks are read.
KEY = (
    "Filled round on a whole line: ankle. Open square on dashes: toe. Whisker: 95 % interval. //: a break, "
    "what stands before and after may not be compared. Open at the top: could not be occluded, never a "
    "value. Triangle at the foot: no signal, not a pressure of 0. Dotted box: noise, a newest value inside "
    "it is no sure change. Dotted upright: a vessel was treated, a new baseline. Crossed exam: a measure is "
    "missing. Hollow grey round: entered in error, counted nowhere. Decision support, never a diagnosis."
)
HOLLOW = ("toe_pressure", "toe_brachial_index")


@dataclass(frozen=True)
class Stroke:
    """A path; `dash` is empty for a whole line, `fill` the name of what fills it."""

    d: str
    width: float = 1.5
    dash: str = ""
    fill: str = "none"
    soft: bool = False


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    words: str
    anchor: str = "start"
    bold: bool = False
    soft: bool = False


@dataclass
class Picture:
    """Everything drawn, in order; `head` names whose figure it is and when it was made."""

    title: str
    head: Sequence[str]
    width: float = 2 * PANEL
    height: float = 0
    strokes: list[Stroke] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)


def picture_of(data: dict[str, Any], key: str, head: Sequence[str], said: Mapping[str, str]) -> Picture:
    """The figure called `key` of what ``drawn`` gave, with its caption for each limb (`said`).

    Raises
    ------
    KeyError
        If there is no such figure.
    """
    figure = {one["key"]: one for one in data["figures"]}[key]
    picture = Picture(figure["title"], head)
    top = 30 + LINE * (len(head) + 1)
    picture.texts.append(Text(20, 24, figure["title"], bold=True))
    picture.texts += [Text(20, 24 + LINE * (row + 1), words) for row, words in enumerate(head)]
    ends = [_Panel(picture, figure, panel, data, index * PANEL, top).draw(said[panel["limb"]])
            for index, panel in enumerate(figure["panels"])]  # fmt: skip
    foot = max(ends) + LINE
    for row, words in enumerate(textwrap.wrap(KEY, 2 * LETTERS + 20)):
        picture.texts.append(Text(20, foot + LINE * row, words, soft=True))
        picture.height = foot + LINE * (row + 1)
    return picture


class _Panel:
    """One limb of the figure: `draw` adds it to the picture and says where it ends."""

    def __init__(
        self, picture: Picture, figure: dict[str, Any], panel: dict[str, Any], data: dict[str, Any],
        offset: float, top: float,
    ) -> None:  # fmt: skip
        self.picture, self.figure, self.panel, self.lanes = picture, figure, panel, data["lanes"]
        self.left, self.right = offset + LEFT, offset + RIGHT
        self.top, self.base = top + 20, top + 20 + PLOT
        self.first, self.last = (date.fromisoformat(day) for day in data["across"])

    def draw(self, said: str) -> float:
        self._text(self.left, self.top - 8, self.panel["word"], bold=True)
        self._scale()
        for noise in self.panel["noises"]:
            low, high = self._y(noise["low"]), self._y(noise["high"])
            box = f"M{self._x(noise['from'])} {low}V{high}H{self._x(noise['to'])}V{low}Z"
            self._stroke(box, 0.8, "1 3", "noise", soft=True)
        self._limits()
        for series in self.panel["series"]:
            self._series(series)
        return self._in_words(said, self._below() + LINE / 2)

    def _limits(self) -> None:
        limits = [(self._y(limit["value"]), limit["words"]) for limit in self.figure["limits"]]
        for name in names_beside(limits, top=self.top, line=LINE, letters=LETTERS_OF_A_NAME):
            self._stroke(f"M{self.left} {name.y}H{self.right}", 1, "5 4", soft=True)
            for y, words in name.lines:
                self._text(self.right + NAMES_AT, y, words, soft=True)

    def _x(self, at: str) -> float:
        share = (date.fromisoformat(at[:10]) - self.first).days / max((self.last - self.first).days, 1)
        return round(self.left + share * (self.right - self.left), 1)

    def _y(self, value: float) -> float:
        share = min(max(value / self.figure["top"], 0), 1)
        return round(self.base - share * PLOT, 1)

    def _scale(self) -> None:
        self._stroke(f"M{self.left} {self.top}V{self.base}H{self.right}", 1)
        step, places = (20, 0) if self.figure["key"] == "pressures" else (0.2, 1)
        for number in range(round(self.figure["top"] / step) + 1):
            y = self._y(number * step)
            self._stroke(f"M{self.left - 4} {y}h4", 1)
            self._text(self.left - 8, y + 4, f"{number * step:.{places}f}", "end")

    def _series(self, series: dict[str, Any]) -> None:
        hollow = series["measure"] in HOLLOW
        for run in series["stretches"]:
            places = [(self._x(point["at"]), self._y(point["value"])) for point in run]
            if len(places) > 1:
                path = "L".join(f"{x} {y}" for x, y in places)
                self._stroke(f"M{path}", 1.75, "6 4" if hollow else "")
            for point, (x, y) in zip(run, places, strict=True):
                if point["up"] is not None:
                    high, low = self._y(point["value"] + point["up"]), self._y(point["value"] - point["down"])
                    self._stroke(f"M{x} {low}V{high}M{x - 3} {low}h6M{x - 3} {high}h6", 1)
                self._mark(x, y, hollow=hollow)
        if series["stretches"]:
            x, y = self._x(series["stretches"][-1][-1]["at"]), self._y(series["stretches"][-1][-1]["value"])
            self._text(x + 8, y + 4, series["name"].split()[0].split("-")[0], bold=True)
        for gap in series["breaks"]:
            self._text(self._x(gap["at"]), self._y(gap["height"]), f"//{gap['number']}", "middle", bold=True)
        for one in series["open_topped"]:
            value = self.figure["top"] * 0.94 if one["value"] is None else one["value"]
            x, y = self._x(one["at"]), self._y(value)
            self._stroke(f"M{x - 7} {y - 10}V{y}H{x + 7}V{y - 10}", 2.5)
        for one in series["no_signal"]:
            x = self._x(one["at"])
            self._stroke(f"M{x - 6} {self.base - 11}h12l-6 10z", 1.5, fill="paper" if hollow else "ink")

    def _mark(self, x: float, y: float, *, hollow: bool) -> None:
        if hollow:
            self._stroke(f"M{x - 4} {y - 4}h8v8h-8z", fill="paper")
        else:
            self._stroke(f"M{x - 4} {y}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z", fill="ink")

    def _below(self) -> float:
        """The exams, then a lane for each kind of event, then the years."""
        y = self.base + LANE
        self._text(self.left - 8, y + 4, "exams", "end")
        for exam in self.panel["exams"]:
            x = self._x(exam["at"])
            whole = exam["whole"]
            self._stroke(f"M{x} {y - 5}v10" if whole else f"M{x - 4} {y - 4}l8 8M{x + 4} {y - 4}l-8 8")
        for one in self.panel["in_error"]:
            self._stroke(
                f"M{self._x(one['at']) - 4} {y}a4 4 0 1 0 8 0a4 4 0 1 0 -8 0z", 1, fill="paper", soft=True
            )
        for lane in self.lanes:
            y += LANE
            self._text(self.left - 8, y + 4, lane["words"], "end")
            for event in self.panel["events"]:
                if event["kind"] == lane["kind"]:
                    self._event(event, y)
        y += LANE
        for year in range(self.first.year + 1, self.last.year + 1):
            x = self._x(f"{year}-01-01")
            self._stroke(f"M{x} {y - 10}v5", 1)
            self._text(x, y + 6, str(year), "middle")
        return y + LANE

    def _event(self, event: dict[str, Any], y: float) -> None:
        start, end = self._x(event["from"]), self._x(event["to"])
        if event["baseline"]:
            self._stroke(f"M{start} {self.top}V{self.base}", 1.5, "2 2")
        if end > start:
            self._stroke(f"M{start} {y}H{end}", 4)
        if event["once"]:
            for x in dict.fromkeys((start, end)):
                self._stroke(f"M{x} {y - 6}l6 6-6 6-6-6z", fill="ink")
            return
        self._stroke(f"M{start - 4} {y - 4}h8v8h-8z", fill="ink")
        self._stroke(f"M{end} {y - 6}v12" if event["ended"] else f"M{end} {y - 6}l8 6-8 6z", fill="ink")

    def _in_words(self, said: str, y: float) -> float:
        """The caption, and in words what the marks leave open: breaks, events, exams entered in error."""
        lines = [said]
        lines += [_plain(gap["words"]) for series in self.panel["series"] for gap in series["breaks"]]
        lines += [_plain(event["words"]) for event in self.panel["events"]]
        lines += [_plain(one["words"]) for one in self.panel["in_error"]]
        for words in _wrapped(lines):
            self._text(self.left - LEFT + 20, y, words)
            y += LINE
        return y

    def _stroke(
        self, d: str, width: float = 1.5, dash: str = "", fill: str = "none", *, soft: bool = False
    ) -> None:
        self.picture.strokes.append(Stroke(d, width, dash, fill, soft))

    def _text(
        self, x: float, y: float, words: str, anchor: str = "start", *, bold: bool = False, soft: bool = False
    ) -> None:
        self.picture.texts.append(Text(round(x, 1), round(y, 1), words, anchor, bold, soft))


def _plain(hover: str) -> str:
    return unescape(hover.replace("<br>", ": ", 1).replace("<br>", "; "))


def _wrapped(lines: Sequence[str]) -> Iterator[str]:
    for words in lines:
        yield from textwrap.wrap(words, LETTERS, subsequent_indent="   ")
