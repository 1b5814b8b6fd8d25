"""The course of one wound as a small figure: its area as bars, the stage of its limb as steps. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from exams.hemodynamics import LimbStage

WIDTH, HEIGHT = 640, 272
_LEFT, _RIGHT = 70, 620
_AREA_TOP, _AREA_FOOT = 24, 120
_STAGE_TOP, _STAGE_FOOT = 150, 218
_STAGES = (1, 2, 3, 4, 5)


@dataclass(frozen=True)
class Bar:
    """One area: a bar from ``y`` to the foot, its words above it."""

    x: float
    y: float
    words: str

    @property
    def height(self) -> float:
        return _AREA_FOOT - self.y

    @property
    def left(self) -> float:
        return self.x - 1

    @property
    def label_y(self) -> float:
        return self.y - 8


@dataclass(frozen=True)
class StageMark:
    """The stage on one day; ``words`` are "4", or "?" where it is not stated."""

    x: float
    y: float
    words: str


@dataclass(frozen=True)
class CourseFigure:
    """Ready to be drawn; x is time, the oldest day left."""

    bars: tuple[Bar, ...]
    stages: tuple[StageMark, ...]
    steps: str
    rules: tuple[tuple[float, str], ...]
    first: str
    last: str
    description: str
    width: int = WIDTH
    height: int = HEIGHT
    left: int = _LEFT
    right: int = _RIGHT
    area_foot: int = _AREA_FOOT
    stage_foot: int = _STAGE_FOOT


def course_figure(
    seen: Sequence[tuple[date, int | None, LimbStage | None]],
) -> CourseFigure | None:
    """The figure of assessments (day, area in mm², stage), in any order; None below two of them."""
    ordered = sorted(seen, key=lambda one: one[0])
    if len(ordered) < 2:
        return None
    first, last = ordered[0][0], ordered[-1][0]
    span = max((last - first).days, 1)
    largest = max((area or 0 for _, area, _ in ordered), default=0) or 1

    def x(on: date) -> float:
        return round(_LEFT + 20 + (on - first).days / span * (_RIGHT - _LEFT - 40), 1)

    bars = tuple(
        Bar(x(on), round(_AREA_FOOT - area / largest * (_AREA_FOOT - _AREA_TOP), 1), f"{area / 100:.1f}")
        for on, area, _ in ordered
        if area is not None
    )
    stages = tuple(
        StageMark(x(on), _stage_y(stage.stage if isinstance(stage.stage, int) else 0), _stage_words(stage))
        for on, _, stage in ordered
        if stage is not None
    )
    known = [mark for mark in stages if mark.words != "?"]
    return CourseFigure(
        bars=bars,
        stages=stages,
        steps=_steps(known),
        rules=tuple((_stage_y(stage), str(stage)) for stage in _STAGES),
        first=f"{first.day} {first:%b} {first.year}",
        last=f"{last.day} {last:%b} {last.year}",
        description=_told(ordered),
    )


def _stage_y(stage: int) -> float:
    """Stage 1 at the foot, 5 at the top; an unknown one under the foot."""
    if stage == 0:
        return _STAGE_FOOT + 14
    return round(_STAGE_FOOT - (stage - 1) / 4 * (_STAGE_FOOT - _STAGE_TOP), 1)


def _stage_words(stage: LimbStage) -> str:
    return str(stage.stage) if isinstance(stage.stage, int) else "?"


def _steps(marks: Sequence[StageMark]) -> str:
    """A line that stays at a stage until the next assessment changes it."""
    if not marks:
        return ""
    path = f"M{marks[0].x} {marks[0].y}"
    return path + "".join(f"H{mark.x}V{mark.y}" for mark in marks[1:])


def _told(ordered: Sequence[tuple[date, int | None, LimbStage | None]]) -> str:
    (first, area, stage), (last, area_now, stage_now) = ordered[0], ordered[-1]

    def said(on: date, mm2: int | None, of: LimbStage | None) -> str:
        size = f"{mm2 / 100:.1f} cm²" if mm2 is not None else "no area"
        return f"{on.day} {on:%b} {on.year}: {size}, stage {_stage_words(of) if of else 'not graded'}"

    return f"{len(ordered)} assessments. {said(first, area, stage)}; {said(last, area_now, stage_now)}."
