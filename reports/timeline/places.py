"""Where words stand on a figure of the timeline so that they hide no mark and no other word. Pure.

Places are shares of the plot: 0 is its left edge or its foot, 1 its right edge or its top.
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

# Half the room that the number of a break takes beside a mark, and the steps in which it gives way to one.
HALF_WIDTH, HALF_HEIGHT = 0.05, 0.03
STEP = 0.01
LOWEST, HIGHEST = 0.04, 0.97
# Between two names beside the plot, in lines of words: without it they read as one sentence.
GAP = 0.5


@dataclass(frozen=True)
class Taken:
    """A mark with its whisker, or a word: it stands at `x` and reaches from `low` to `high`."""

    x: float
    low: float
    high: float


def free_height(x: float, wanted: float, taken: Iterable[Taken]) -> float:
    """The height nearest to the wanted one at which the number of a break hides nothing.

    The wanted one itself where nothing is in the way, and where everything is.
    """
    near = [one for one in taken if abs(one.x - x) < HALF_WIDTH]
    return next((height for height in _outwards(wanted) if not _hides(height, near)), wanted)


def _hides(height: float, near: Sequence[Taken]) -> bool:
    return any(one.low - HALF_HEIGHT < height < one.high + HALF_HEIGHT for one in near)


def _outwards(wanted: float) -> Iterator[float]:
    """The wanted height, then a step above it, a step below it, and so on."""
    yield wanted
    for step in range(1, round(1 / STEP)):
        for height in (wanted + step * STEP, wanted - step * STEP):
            if LOWEST <= height <= HIGHEST:
                yield height


@dataclass(frozen=True)
class NameBeside:
    """The name of a limit beside the plot: its lines of words, each with the y of its foot."""

    y: float
    lines: tuple[tuple[float, str], ...]


def names_beside(
    limits: Iterable[tuple[float, str]], *, top: float, line: float, letters: int, gap: float = GAP
) -> tuple[NameBeside, ...]:
    """Each name at its own line, pushed down where two would run into one another, and apart from the next.

    Parameters
    ----------
    limits : (y of the line, words), in SVG user units, y growing downwards
    top : y above which no name begins
    line : height of a line of words
    letters : letters of such a line
    gap : between two names, in lines
    """
    found = []
    free_from = top - line
    for y, words in sorted(limits, key=lambda limit: limit[0]):
        folded = textwrap.wrap(words, letters)
        start = max(y + line / 3 - line * (len(folded) - 1) / 2, free_from)
        free_from = start + line * (len(folded) + gap)
        lines = tuple((round(start + line * row, 1), one) for row, one in enumerate(folded))
        found.append(NameBeside(y, lines))
    return tuple(found)
