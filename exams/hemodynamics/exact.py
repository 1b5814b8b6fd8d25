"""Exact arithmetic on pressures: no float ever decides a band.

Inside the core a pressure is a whole number of EIGHTHS of a mmHg: a reading is whole or half, the mean of two
is a quarter, the mean of two such means an eighth. Every function takes Python integers or integer arrays.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import overload

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.errors import InputError

Integers = npt.NDArray[np.int64]
Booleans = npt.NDArray[np.bool_]

EIGHTHS = 8  # eighths in one mmHg
EIGHTHS_IN_A_HALF = 4
# The height of a foot moves its pressure by ten-thousandths of a mmHg for each mm: still whole numbers.
TEN_THOUSANDTHS_IN_AN_EIGHTH = 1250


@overload
def index_hundredths(site: int, arm: int) -> int: ...
@overload
def index_hundredths(site: Integers, arm: Integers) -> Integers: ...
def index_hundredths(site: int | Integers, arm: int | Integers) -> int | Integers:
    """Site pressure over arm pressure, in hundredths, ties rounded up.

    Parameters
    ----------
    site, arm : int or int array, shape (n,)
        Systolic pressures in one unit (mmHg, halves or eighths); the arm above 0.

    Returns
    -------
    int or int array, shape (n,)
        91 means 0.91. Bands are read from this, never from a float.

    Raises
    ------
    InputError
        ``arm.not_positive`` if any arm pressure is 0 or less.

    Notes
    -----
    Source: two decimals, ACC16 array 2; half-up, ours (clinical reference 1.4).

    Examples
    --------
    >>> index_hundredths(181, 200)
    91
    """
    if np.any(np.less_equal(arm, 0)):
        raise InputError("arm.not_positive", field="arm", value=arm)
    return (200 * site + arm) // (2 * arm)


def round_half_up(value: Decimal, places: int) -> Decimal:
    """A decimal to so many places, ties away from zero (as hand calculation does)."""
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


@lru_cache(maxsize=4096)
def mmhg(eighths: int) -> Decimal:
    """Eighths of a mmHg as a decimal number of mmHg without trailing zeros: 724 gives 90.5."""
    value = Decimal(int(eighths)) / EIGHTHS
    return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()


def middle_eighths(half_mmhg: Integers, present: Booleans) -> Integers:
    """Middle value of the readings at one site: the mean of two, the median of more.

    Parameters
    ----------
    half_mmhg : int array, shape (n, k)
        k readings of each of n exams, in half mmHg.
    present : bool array, shape (n, k)
        Which of them count.

    Returns
    -------
    int array, shape (n,)
        In eighths of a mmHg; 0 where none counts.

    Notes
    -----
    Source: median of three, mean of two otherwise; clinical reference 1.1k, ours.
    """
    if half_mmhg.shape[1] == 1:
        return np.where(present[:, 0], half_mmhg[:, 0] * EIGHTHS_IN_A_HALF, 0)
    beyond = np.iinfo(np.int64).max // 4
    ordered = np.sort(np.where(present, half_mmhg, beyond), axis=1)
    count = present.sum(axis=1)
    lower = np.take_along_axis(ordered, np.maximum(count - 1, 0)[:, None] // 2, axis=1)[:, 0]
    upper = np.take_along_axis(ordered, (count // 2).clip(max=half_mmhg.shape[1] - 1)[:, None], axis=1)[:, 0]
    return np.where(count > 0, (lower + upper) * (EIGHTHS_IN_A_HALF // 2), 0)
