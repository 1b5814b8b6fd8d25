"""The area inside a line drawn on a photograph, from a scale lying in it. Pure: points in, mm² out."""

from dataclasses import dataclass
from itertools import combinations, pairwise
from math import hypot, isfinite
from typing import Any

Point = tuple[float, float]
MOST_POINTS = 200
LEAST_SCALE_PIXELS = 20
SCALE_LIMITS_MM = (5, 300)


class TraceRefused(ValueError):
    """A line that encloses no area, or a scale that cannot be one, in words for who drew it."""


@dataclass(frozen=True)
class DrawnLine:
    """Points around a wound in the order drawn, and the two ends of a length of ``scale_mm``, in pixels.

    Raises
    ------
    TraceRefused
        Fewer than three points, points outside the picture, a line that crosses itself, a scale too short.
    """

    points: tuple[Point, ...]
    scale: tuple[Point, ...]
    scale_mm: float

    def __post_init__(self) -> None:
        if len(self.points) < 3:
            raise TraceRefused("Mark at least three points around the edge of the wound.")
        if len(self.points) > MOST_POINTS:
            raise TraceRefused(f"At most {MOST_POINTS} points are taken. Clear them and mark the edge again.")
        if len(self.scale) != 2:
            raise TraceRefused("Mark both ends of the scale that lies in the photograph.")
        if not all(isfinite(number) for point in (*self.points, *self.scale) for number in point):
            raise TraceRefused("These points are not on the photograph. Clear them and mark again.")
        low, high = SCALE_LIMITS_MM
        if not low <= self.scale_mm <= high:
            raise TraceRefused(f"A scale is {low} to {high} mm long. Read its length off the ruler again.")
        if self.scale_pixels < LEAST_SCALE_PIXELS:
            raise TraceRefused(
                "Both ends of the scale are at almost the same point. Mark its two ends again."
            )
        if _crosses_itself(self.points):
            raise TraceRefused("The line crosses itself. Clear it and go round the edge once, in order.")

    @property
    def scale_pixels(self) -> float:
        (x1, y1), (x2, y2) = self.scale
        return hypot(x2 - x1, y2 - y1)

    @property
    def area_mm2(self) -> int:
        """The area inside the line, whole mm², at least 1."""
        closed = [*self.points, self.points[0]]
        doubled = abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(closed)))
        return max(1, round(doubled / 2 * (self.scale_mm / self.scale_pixels) ** 2))

    def to_json(self) -> dict[str, Any]:
        return {
            "points": [list(point) for point in self.points],
            "scale": [list(point) for point in self.scale],
            "scale_mm": self.scale_mm,
        }


def read_points(text: str) -> tuple[Point, ...]:
    """ "120,88 131,90" as points.

    Raises
    ------
    TraceRefused
        If it is anything else.
    """
    try:
        pairs = [one.split(",") for one in text.split()[: MOST_POINTS + 1]]
        return tuple((float(x), float(y)) for x, y in pairs)
    except ValueError:
        raise TraceRefused("These points cannot be read. Clear them and mark again.") from None


def _crosses_itself(points: tuple[Point, ...]) -> bool:
    edges = list(pairwise([*points, points[0]]))
    last = len(edges) - 1
    return any(
        _cross(*edges[one], *edges[other])
        for one, other in combinations(range(len(edges)), 2)
        if other - one > 1 and (one, other) != (0, last)
    )


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the line from a to b crosses that from c to d."""

    def turn(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0
