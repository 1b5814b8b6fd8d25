"""Readings of many exams side by side: one array a site, one row an exam.

``interpret`` sends one exam as arrays of length 1, the bulk command sends thousands: one implementation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.exact import EIGHTHS_IN_A_HALF, Booleans, Integers, middle_eighths
from exams.hemodynamics.measured import TOE_SITES, Outcome, Side, Site

Codes = npt.NDArray[np.int8]

# What stands at a site. VOID is a cell that could not be read: nothing that depends on it may be computed.
NOT_TRIED, PRESSURE, NOT_OCCLUDABLE, NO_SIGNAL, NOT_OBTAINED, VOID = range(6)
CODE_OF = {
    Outcome.PRESSURE: PRESSURE,
    Outcome.NOT_OCCLUDABLE: NOT_OCCLUDABLE,
    Outcome.NO_SIGNAL: NO_SIGNAL,
    Outcome.NOT_OBTAINED: NOT_OBTAINED,
}
# A yes/no/unknown answer; NOT_ASKED where the table has no such column and the other answer stands for both.
UNKNOWN, NO, YES, NOT_ASKED = range(4)
ANSWER_CODES = {"unknown": UNKNOWN, "no": NO, "yes": YES}
FIRST_UNKNOWN, FIRST_RIGHT, FIRST_LEFT = range(3)


@dataclass(frozen=True, slots=True)
class Attempts:
    """All attempts at one site: ``code`` and ``half_mmhg``, shape (n, k), in the order taken."""

    code: Codes
    half_mmhg: Integers

    @property
    def rows(self) -> int:
        return int(self.code.shape[0])


@dataclass(frozen=True, slots=True)
class LimbColumns:
    """One side of n exams.

    ``lowering`` is by how much a height of the foot lowers its pressures for urgency, in ten-thousandths of a
    mmHg, 0 or more, shape (n,). The facts are bool arrays, shape (n,).
    """

    arm: Attempts
    ankle: Mapping[Site, Attempts]
    toes: Mapping[Site, Attempts]
    open_wound: Booleans
    rest_pain: Booleans
    foot_infection: Booleans
    had_signal_before: Booleans
    lowering: Integers


@dataclass(frozen=True, slots=True)
class ExamColumns:
    """n exams. ``first_arm``, ``diabetes``, ``kidney_disease`` are codes, shape (n,)."""

    right: LimbColumns
    left: LimbColumns
    first_arm: Codes
    diabetes: Codes
    kidney_disease: Codes

    @property
    def rows(self) -> int:
        return int(self.first_arm.shape[0])

    def limb(self, side: Side) -> LimbColumns:
        return self.right if side is Side.RIGHT else self.left


@dataclass(frozen=True, slots=True)
class SiteColumn:
    """What stands at a site after the rule for repeats; every array has shape (n,).

    ``eighths``: the pressure, or for NOT_OCCLUDABLE the cuff pressure reached (0 unknown). ``count``: how
    many pressures were used. ``apart``: two or more pressures lie further apart than the criteria allow.
    """

    code: Codes
    eighths: Integers
    count: Integers
    apart: Booleans


def empty_attempts(rows: int) -> Attempts:
    return Attempts(np.zeros((rows, 1), np.int8), np.zeros((rows, 1), np.int64))


def settled_code(attempts: Attempts) -> Codes:
    """The outcome that stands: the latest attempt that gave an answer; VOID if any attempt is void."""
    code = attempts.code[:, 0].copy()
    for column in range(1, attempts.code.shape[1]):
        latest = attempts.code[:, column]
        answered = (latest >= PRESSURE) & (latest <= NO_SIGNAL)
        code = np.where(answered | (code == NOT_TRIED), latest, code)
    return np.where((attempts.code == VOID).any(axis=1), VOID, code).astype(np.int8)


def site_column(attempts: Attempts, apart_eighths: int, *, kept: Booleans | None = None) -> SiteColumn:
    """The rule for repeats at one site.

    Parameters
    ----------
    attempts : Attempts
    apart_eighths : int
        Readings further apart than this, in eighths of a mmHg, are marked.
    kept : bool array, shape (n, k), optional
        Which attempts may count (the arm rules drop some); all unless given.

    Notes
    -----
    Source: median of three, mean of two otherwise, third reading if more than 10 apart: clinical reference
    1.1k, ours. The latest attempt that gave an answer decides between a pressure and its absence (ours).
    """
    pressures = attempts.code == PRESSURE
    used = pressures if kept is None else pressures & kept
    code = settled_code(attempts)
    eighths = np.where(code == PRESSURE, middle_eighths(attempts.half_mmhg, used), 0)
    # The highest cuff pressure reached says most; 0 (unknown) stays unknown.
    stopped = np.where(attempts.code == NOT_OCCLUDABLE, attempts.half_mmhg, 0)
    unknown = ((attempts.code == NOT_OCCLUDABLE) & (attempts.half_mmhg == 0)).any(axis=1)
    reached = np.where(unknown, 0, stopped.max(axis=1) * EIGHTHS_IN_A_HALF)
    eighths = np.where(code == NOT_OCCLUDABLE, reached, eighths)
    if attempts.code.shape[1] == 1:
        apart = np.zeros(attempts.rows, bool)
    else:
        highest = np.where(pressures, attempts.half_mmhg, 0).max(axis=1)
        lowest = np.where(pressures, attempts.half_mmhg, np.iinfo(np.int64).max // 4).min(axis=1)
        apart = (highest - lowest) * EIGHTHS_IN_A_HALF > apart_eighths
    return SiteColumn(code, eighths, np.where(code == PRESSURE, used.sum(axis=1), 0), apart)


@dataclass(frozen=True, slots=True)
class ToeColumn:
    """The toe that decides, shape (n,): its site number (0 hallux … 4) and what stands there.

    ``lowest`` is the lowest pressure of any toe of the foot in eighths (0 none); ``any_flat``: some toe gave
    no signal.
    """

    which: Codes
    site: SiteColumn
    lowest: Integers
    any_flat: Booleans


def toe_column(toes: Mapping[Site, SiteColumn], rows: int) -> ToeColumn:
    """The hallux decides; the next toe only where nothing was obtained at those before it.

    Source: hallux by default, second toe if it is absent or ulcerated: clinical reference 1.1e.
    """
    which = np.full(rows, -1, np.int8)
    code = np.zeros(rows, np.int8)
    eighths = np.zeros(rows, np.int64)
    count = np.zeros(rows, np.int64)
    apart = np.zeros(rows, bool)
    lowest = np.zeros(rows, np.int64)
    any_flat = np.zeros(rows, bool)
    for number, site in enumerate(TOE_SITES):
        column = toes.get(site)
        if column is None:
            continue
        undecided = (code == NOT_TRIED) | (code == NOT_OBTAINED)
        takes = (
            undecided & (column.code != NOT_TRIED) & ~((code == NOT_OBTAINED) & (column.code == NOT_OBTAINED))
        )
        which = np.where(takes, number, which).astype(np.int8)
        code = np.where(takes, column.code, code).astype(np.int8)
        eighths = np.where(takes, column.eighths, eighths)
        count = np.where(takes, column.count, count)
        apart = np.where(takes, column.apart, apart)
        measured = column.code == PRESSURE
        lowest = np.where(measured & ((lowest == 0) | (column.eighths < lowest)), column.eighths, lowest)
        any_flat |= column.code == NO_SIGNAL
    return ToeColumn(which, SiteColumn(code, eighths, count, apart), lowest, any_flat)
