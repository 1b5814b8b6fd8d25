"""From a number to a band, and from two bands to a pattern; the limits are those of the criteria."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from exams.hemodynamics.columns import Codes
from exams.hemodynamics.criteria.model import (
    ANKLE_INDEX_CODES,
    NOT_ASSESSED,
    PRESSURE_CODES,
    TOE_INDEX_CODES,
    IndexBand,
    PressureBand,
)
from exams.hemodynamics.exact import EIGHTHS, Booleans, Integers

# A band is held in arrays as its place in this list. NORMAL serves both indices.
BANDS = (NOT_ASSESSED, *ANKLE_INDEX_CODES, TOE_INDEX_CODES[0], *PRESSURE_CODES)
BAND_NUMBER = {code: number for number, code in enumerate(BANDS)}
UNASSESSED = BAND_NUMBER[NOT_ASSESSED]


def index_band(hundredths: Integers, bands: Sequence[IndexBand]) -> Codes:
    """Band of each index; NOT_ASSESSED where the hundredths are negative (no index). Shape as given."""
    lows = np.array([band.lo for band in bands])
    numbers = np.array([BAND_NUMBER[band.code] for band in bands], np.int8)
    place = np.searchsorted(lows, hundredths, side="right") - 1
    return np.where(hundredths < 0, UNASSESSED, numbers[np.maximum(place, 0)]).astype(np.int8)


def pressure_band(eighths: Integers, bands: Sequence[PressureBand]) -> Codes:
    """Band of each pressure in eighths of a mmHg; NOT_ASSESSED where it is 0 (none). Shape as given."""
    band = np.full(eighths.shape, BAND_NUMBER[bands[-1].code], np.int8)
    # From the least severe down, so that the most severe that holds is written last.
    for step in reversed(bands[:-1]):
        limit = (step.limit_mmhg or 0) * EIGHTHS
        holds = eighths < limit if step.operator == "<" else eighths <= limit
        band = np.where(holds, BAND_NUMBER[step.code], band).astype(np.int8)
    return np.where(eighths <= 0, UNASSESSED, band).astype(np.int8)


def is_band(band: Codes, *codes: str) -> Booleans:
    """Whether each band is one of the codes."""
    return np.isin(band, [BAND_NUMBER[code] for code in codes])


def is_abnormal(band: Codes) -> Booleans:
    """Whether each band of an index says arterial disease."""
    return is_band(band, *(code for code in BANDS if code.startswith("ABNORMAL")))


# How the ankle and the toe enter the pattern.
ANKLE_LOW, ANKLE_BORDERLINE, ANKLE_NORMAL, ANKLE_STIFF, ANKLE_MIXED, ANKLE_NO_FLOW, ANKLE_NONE = range(7)
TOE_LOW, TOE_NORMAL, TOE_MISSING = range(3)

PATTERNS = (
    "PAD_CONCORDANT",
    "ABI_ONLY",
    "SUSPECT_CALCIFICATION_OR_DISTAL",
    "BORDERLINE",
    "NORMAL",
    "CALCIFIED_PAD",
    "CALCIFIED_NO_TOE_DEFICIT",
    "INCOMPLETE_NEEDS_TBI",
    "INCOMPLETE_ADVISE_TBI",
    "PAD_BY_ANKLE",
    "NO_INDEX",
    "INCOMPLETE_ONE_ARTERY",
    NOT_ASSESSED,
)
PATTERN_NUMBER = {code: number for number, code in enumerate(PATTERNS)}

# Clinical reference 2.2, one row an ankle, (toe low, toe normal, toe missing); every cell is filled.
_STIFF_ROW = ("CALCIFIED_PAD", "CALCIFIED_NO_TOE_DEFICIT", "INCOMPLETE_NEEDS_TBI")
PATTERN_TABLE = {
    ANKLE_LOW: ("PAD_CONCORDANT", "ABI_ONLY", "PAD_BY_ANKLE"),
    ANKLE_BORDERLINE: ("SUSPECT_CALCIFICATION_OR_DISTAL", "BORDERLINE", "BORDERLINE"),
    ANKLE_NORMAL: ("SUSPECT_CALCIFICATION_OR_DISTAL", "NORMAL", "NORMAL"),
    ANKLE_STIFF: _STIFF_ROW,
    ANKLE_MIXED: _STIFF_ROW,
    ANKLE_NO_FLOW: ("PAD_CONCORDANT", "PAD_BY_ANKLE", "PAD_BY_ANKLE"),
    ANKLE_NONE: ("NO_INDEX", "NO_INDEX", "NO_INDEX"),
}
_TABLE = np.array([[PATTERN_NUMBER[code] for code in PATTERN_TABLE[row]] for row in range(7)], np.int8)


def pattern(
    ankle: Codes, toe: Codes, may_mislead: Booleans, one_artery_with_wound: Booleans, unreadable: Booleans
) -> Codes:
    """Place in ``PATTERNS`` for each limb.

    Parameters
    ----------
    ankle : int array, shape (n,)
        ANKLE_LOW … ANKLE_NONE.
    toe : int array, shape (n,)
        TOE_LOW, TOE_NORMAL or TOE_MISSING.
    may_mislead : bool array, shape (n,)
        Diabetes or kidney disease is yes or unknown, or there is a wound (ACC16: normal or borderline index
        with a wound asks for the toe), so an ankle index alone may mislead.
    one_artery_with_wound : bool array, shape (n,)
        Only one ankle artery was measured on a foot with a wound: never NORMAL.
    unreadable : bool array, shape (n,)
        A cell of arm, ankle or toe could not be read: NOT_ASSESSED.

    Notes
    -----
    Source: clinical reference 2.2 (table) and 1.5 (one artery), both ours. Total: every cell has a code.
    """
    found = _TABLE[ankle, toe]
    unreassured = (toe == TOE_MISSING) & may_mislead & ((ankle == ANKLE_BORDERLINE) | (ankle == ANKLE_NORMAL))
    found = np.where(unreassured, PATTERN_NUMBER["INCOMPLETE_ADVISE_TBI"], found)
    held_back = one_artery_with_wound & (found == PATTERN_NUMBER["NORMAL"])
    found = np.where(held_back, PATTERN_NUMBER["INCOMPLETE_ONE_ARTERY"], found)
    return np.where(unreadable, PATTERN_NUMBER[NOT_ASSESSED], found).astype(np.int8)
