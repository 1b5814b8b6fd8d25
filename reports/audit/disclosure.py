"""Small numbers: what is hidden and rounded so that no sum or difference of what is shown gives one away.

The rule of the house (workflow.md 5.2): counts of 1 to 7 are hidden, and so is a part whose rest is 1 to 7;
zero is shown; every other count is rounded to the nearest 5, a total by itself, never as a sum. That alone
does not protect: a hidden month can be found from its quarter and the other months. So everything that will
ever be shown of a measure in a year (months, quarters, year; each clinic and all) is judged at once, and
further counts are hidden until nobody who adds and subtracts can narrow a small count down. Pure.
"""

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

Key = Hashable
# Two sums of parts that are the same number.
Same = tuple[frozenset[Key], frozenset[Key]]


@dataclass(frozen=True)
class SmallNumbers:
    """1 to ``threshold`` is hidden, the rest rounded to ``base``; a small count keeps ``base`` candidates.

    ``exact``: what is shown tells its number to the last unit, as a mean of it may.
    """

    threshold: int = 7
    base: int = 5
    exact: bool = False

    def is_small(self, number: int) -> bool:
        return 1 <= number <= self.threshold

    def rounded(self, number: int) -> int:
        return (number + self.base // 2) // self.base * self.base

    def what_it_tells(self, number: int) -> tuple[int, int]:
        """The numbers that are shown as this one is, if it is shown."""
        return (number, number) if self.exact else self.range_of(self.rounded(number))

    def range_of(self, shown: int) -> tuple[int, int]:
        """The numbers that are shown as ``shown``."""
        if shown == 0:
            return 0, 0
        return max(shown - self.base // 2, self.threshold + 1), shown + (self.base - 1) // 2


@dataclass(frozen=True)
class Cell:
    """A count that may be shown: the sum of ``parts``.

    ``of_few``: of more than a small number of units, but of few people; hidden and guarded like a small one.
    ``must_hide``: hidden whatever the others say. A cell that is never shown at all, such as the rest of a
    part, is guarded like every other (``can_show`` False). ``left``: with how many numbers it may be somebody
    must be left, if not with the rule's base.
    """

    key: Key
    number: int
    parts: frozenset[Key]
    of_few: bool = False
    must_hide: bool = False
    can_show: bool = True
    left: int | None = None


def hidden_of(
    cells: Sequence[Cell],
    rule: SmallNumbers,
    insiders: Sequence[Mapping[Key, int]] = (),
    *,
    same: Sequence[Same] = (),
    told_before: Collection[Key] = (),
) -> set[Key]:
    """The keys of the cells that must not be shown.

    Every small count stays guarded: whoever knows all that is shown, and guesses that a hidden count is
    small, is left with at least ``rule.base`` numbers it may be; of a count of few people, twice as many.

    Parameters
    ----------
    cells : everything that will ever be shown, or could be worked out, of measures that share units.
    insiders : what some people know exactly besides, part by part, such as their own clinic's counts; the
        counts of others stay guarded against each of them too.
    same : sums of parts that are the same number by the definitions of the measures.
    told_before : keys of cells whose number has been shown already; another one is hidden in their place.

    Raises
    ------
    ValueError
        If a cell has no parts.
    """
    if any(not cell.parts for cell in cells):
        raise ValueError("a cell is the sum of its parts; this one has none")
    hidden = {
        cell.key
        for cell in cells
        if cell.must_hide or cell.of_few or not cell.can_show or rule.is_small(cell.number)
    }
    views = [_View(cells, rule, known, same, told_before) for known in ({}, *insiders)]
    while True:
        given_away = [found for view in views if (found := view.gives_away(hidden)) is not None]
        if not given_away:
            return hidden
        hidden.update(given_away)


class _View:
    """What somebody can work out who sees the shown cells, how they add up, and knows ``known`` besides."""

    def __init__(
        self,
        cells: Sequence[Cell],
        rule: SmallNumbers,
        known: Mapping[Key, int],
        same: Sequence[Same],
        told_before: Collection[Key],
    ) -> None:
        self.rule, self.told_before = rule, told_before
        self.known = {cell.key: sum(known[part] for part in cell.parts & known.keys()) for cell in cells}
        self.cells = [cell for cell in cells if not cell.parts <= known.keys()]
        guarded = [
            cell
            for cell in self.cells
            if (cell.of_few or rule.is_small(cell.number)) and not cell.parts & known.keys()
        ]
        self.truth = np.array([float(cell.number) for cell in guarded])
        # Every point found that explains what is shown proves room for all guarded counts at once, and still
        # does when more is hidden.
        self.low, self.high, self.tried = self.truth.copy(), self.truth.copy(), False
        self.left = [rule.base if cell.left is None else cell.left for cell in guarded]
        if not guarded:
            return
        sums = [(left - known.keys(), right - known.keys()) for left, right in same]
        # Parts that always come together cannot be told apart, and are one unknown.
        self.columns = _columns(
            [*(cell.parts - known.keys() for cell in self.cells), *(side for pair in sums for side in pair)]
        )
        self.rows = np.array([self._row(cell.parts - known.keys()) for cell in self.cells])
        self.guarded = np.array([self._row(cell.parts) for cell in guarded])
        self.same = np.array([self._row(left) - self._row(right) for left, right in sums if left | right])
        self.apart = np.array(
            [
                float(sum(known.get(part, 0) for part in right) - sum(known.get(part, 0) for part in left))
                for (left, right), rest in zip(same, sums, strict=True)
                if rest[0] | rest[1]
            ]
        )

    def gives_away(self, hidden: set[Key]) -> Key | None:
        """A shown cell that must be hidden too, None if all is guarded."""
        shown = [index for index, cell in enumerate(self.cells) if cell.key not in hidden]
        if not shown or not len(self.truth):
            return None
        ranges = np.array([self._range_of(self.cells[index]) for index in shown], dtype=float)
        told = _Told(self.rows[shown], ranges, self.same, self.apart)
        low, high = self.low, self.high
        if not self.tried:
            self.tried = True
            for objective in self._first_tries():
                self._stretch(low, high, told.extreme(objective))
        for index, row in enumerate(self.guarded):
            for sign in (1, -1):
                if not self._has_room(index, low, high):
                    self._stretch(low, high, told.extreme(sign * row))
            if not self._has_room(index, low, high):
                binding = {shown[place] for sign in (1, -1) for place in told.binding(sign * row)}
                return self._least_missed(binding or set(shown))
        return None

    def _least_missed(self, pinning: set[int]) -> Key:
        """Of the cells that pin a count down the smallest, with which least is lost; one not told before."""
        cells = (self.cells[index] for index in sorted(pinning))
        return min(cells, key=lambda cell: (cell.key in self.told_before, cell.number)).key

    def _range_of(self, cell: Cell) -> tuple[int, int]:
        low, high = self.rule.what_it_tells(cell.number)
        return low - self.known[cell.key], high - self.known[cell.key]

    def _has_room(self, index: int, low: np.ndarray, high: np.ndarray) -> bool:
        first, last = int(np.ceil(low[index] - 1e-6)), int(np.floor(high[index] + 1e-6))
        if not self.rule.is_small(int(self.truth[index])):
            return last - first + 1 >= 2 * self.left[index]
        first, last = max(1, first), min(self.rule.threshold, last)
        return last - first + 1 >= min(self.left[index], self.rule.threshold)

    def _stretch(self, low: np.ndarray, high: np.ndarray, point: np.ndarray) -> None:
        seen = self.guarded @ point
        np.minimum(low, seen, out=low)
        np.maximum(high, seen, out=high)

    def _first_tries(self) -> Iterable[np.ndarray]:
        chance = np.random.default_rng(7)  # the same tries in every run
        for _ in range(6):
            weights = chance.choice([-1.0, 1.0], size=len(self.guarded))
            yield weights @ self.guarded

    def _row(self, parts: frozenset[Key]) -> np.ndarray:
        row = np.zeros(len(set(self.columns.values())))
        row[[self.columns[part] for part in parts]] = 1.0
        return row


def _columns(cells: Sequence[frozenset[Key]]) -> dict[Key, int]:
    """Each part to the number of its unknown."""
    within: dict[Key, list[int]] = {}
    for index, parts in enumerate(cells):
        for part in parts:
            within.setdefault(part, []).append(index)
    numbers: dict[tuple[int, ...], int] = {}
    return {part: numbers.setdefault(tuple(places), len(numbers)) for part, places in within.items()}


class _Told:
    """What is shown, as sums of the unknowns with their ranges, and sums that are the same number."""

    def __init__(self, rows: np.ndarray, ranges: np.ndarray, same: np.ndarray, apart: np.ndarray) -> None:
        from scipy.optimize import LinearConstraint  # only where something is counted
        from scipy.sparse import csc_array

        self.rows, self.ranges, self.same, self.apart = rows, ranges, same, apart
        # A hidden count has no end above; one is set, far beyond a small number.
        self.most = float(max(ranges.max(initial=0.0), 0.0)) + 1000.0
        whole = np.vstack([rows, same]) if len(same) else rows
        low, high = np.concatenate([ranges[:, 0], apart]), np.concatenate([ranges[:, 1], apart])
        self._constraint = LinearConstraint(csc_array(whole), low, high)

    def extreme(self, objective: np.ndarray) -> np.ndarray:
        """The point that makes ``objective`` least among all that explain what is shown."""
        from scipy.optimize import Bounds, milp

        found = milp(objective, constraints=self._constraint, bounds=Bounds(0, self.most))
        if not found.success:
            raise ArithmeticError("what is shown contradicts itself, though the counts explain it")
        return np.asarray(found.x)

    def binding(self, objective: np.ndarray) -> Iterable[int]:
        """The places of the shown sums that keep ``objective`` from being less."""
        from scipy.optimize import linprog

        found = linprog(
            objective,
            A_ub=np.vstack([self.rows, -self.rows]),
            b_ub=np.concatenate([self.ranges[:, 1], -self.ranges[:, 0]]),
            A_eq=self.same if len(self.same) else None,
            b_eq=self.apart if len(self.same) else None,
            bounds=(0, self.most),
            method="highs",
        )
        return np.flatnonzero(np.abs(found.ineqlin.marginals) > 1e-9) % len(self.rows)
