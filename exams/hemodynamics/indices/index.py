"""What an index is: a site pressure over the arm, exact, banded by the criteria."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from exams.hemodynamics.ankle import MEASURED, MIXED, NO_FLOW, STIFF, AnkleColumn
from exams.hemodynamics.bands import BAND_NUMBER, index_band, is_band
from exams.hemodynamics.columns import Codes, ToeColumn
from exams.hemodynamics.criteria.model import NOT_ASSESSED, Criteria
from exams.hemodynamics.exact import Integers, index_hundredths
from exams.hemodynamics.measured import Site

if TYPE_CHECKING:  # the limb is read after the indices are computed
    from exams.hemodynamics.limb import Limb


@dataclass(frozen=True, slots=True)
class Foot:
    """One side of n exams after the rules for repeats: what an index may draw on."""

    ankle: AnkleColumn
    toe: ToeColumn


@dataclass(frozen=True, slots=True)
class Numerator:
    """What goes over the arm; every array has shape (n,), pressures in eighths of a mmHg.

    ``state``: MEASURED, MIXED, STIFF, NO_FLOW or anything else for none. ``cuff``: for STIFF the pressure
    reached, 0 unknown.
    """

    state: Codes
    eighths: Integers
    cuff: Integers


@dataclass(frozen=True, slots=True)
class Index:
    """One index.

    Attributes
    ----------
    measure : str
        Its code, also the name of its bands in the criteria.
    title : str
        Its name in words, spelt out.
    site : str
        What is measured, in words ("ankle", "toe").
    numerator : callable
        From a ``Foot`` to its ``Numerator``.
    no_flow_band : str
        Band where no flow was detected; the index itself is then none, never 0.
    no_flow_words, stiff_words : str
        Why there is none: no flow detected, or an artery that could not be occluded.
    stiff_sentence : str
        What a stiff artery asks a nurse to do; "" where another finding says it.
    flags : tuple of str
        Flags of the limb that travel with this index.
    tried, used : callable
        From a ``Limb`` to the sites it may draw on that were tried, and to those in the numerator.
    combine : callable
        From a ``Limb`` to how those in the numerator are taken together: "higher", "lower" or "mean".
    words : callable
        From a ``Limb`` to what the numerator is, in words ("higher ankle artery") or as a site code.
    """

    measure: str
    title: str
    site: str
    numerator: Callable[[Foot], Numerator]
    no_flow_band: str
    no_flow_words: str
    stiff_words: str
    stiff_sentence: str
    flags: tuple[str, ...]
    tried: Callable[[Limb], tuple[Site, ...]]
    used: Callable[[Limb], tuple[Site, ...]]
    combine: Callable[[Limb], str]
    words: Callable[[Limb], str]


@dataclass(frozen=True, slots=True)
class IndexColumn:
    """An index of n limbs; every array has shape (n,).

    ``hundredths``: -1 where there is no index. ``at_least``: where the cuff stopped below what would prove a
    stiff artery, the hundredths the index is at least; -1 elsewhere. ``band``: place in ``BANDS``.
    """

    numerator: Numerator
    hundredths: Integers
    at_least: Integers
    band: Codes


def index_column(index: Index, foot: Foot, denominator: Integers, criteria: Criteria) -> IndexColumn:
    """An index with its band.

    Parameters
    ----------
    denominator : int array, shape (n,)
        Arm pressure in eighths of a mmHg, 0 where there is none.

    Notes
    -----
    Source: clinical reference 1.4 (exact, half-up, band on hundredths) and 1.5. A cuff that stopped at N
    proves a stiff artery if N is at the limit, unknown, or N over the arm lies in the non-compressible band;
    otherwise the index is only "at least N over the arm". A mixed ankle is never NORMAL: it is capped at
    BORDERLINE, or not assessed where the criteria have no such band.
    """
    bands = criteria.index_bands[index.measure]
    numerator = index.numerator(foot)
    has_arm = denominator > 0
    arm = np.where(has_arm, denominator, 1)
    plain = (numerator.state == MEASURED) | (numerator.state == MIXED)
    hundredths = np.where(plain & has_arm, index_hundredths(numerator.eighths, arm), -1)
    band = index_band(hundredths, bands)

    codes = {step.code for step in bands}
    cap = BAND_NUMBER["BORDERLINE" if "BORDERLINE" in codes else NOT_ASSESSED]
    band = np.where((numerator.state == MIXED) & is_band(band, "NORMAL"), cap, band)

    stiff = numerator.state == STIFF
    at_least = np.full(hundredths.shape, -1, np.int64)
    if "NON_COMPRESSIBLE" in codes:
        reached = np.where(stiff & has_arm & (numerator.cuff > 0), index_hundredths(numerator.cuff, arm), -1)
        proven = stiff & (
            (numerator.cuff == 0)
            | criteria.thresholds["not_occludable_mmhg"].met_by_eighths(numerator.cuff)
            | is_band(index_band(reached, bands), "NON_COMPRESSIBLE")
        )
        band = np.where(proven, BAND_NUMBER["NON_COMPRESSIBLE"], band)
        at_least = np.where(stiff & ~proven, reached, -1)
    band = np.where(numerator.state == NO_FLOW, BAND_NUMBER[index.no_flow_band], band)
    return IndexColumn(numerator, hundredths, at_least, band.astype(np.int8))
