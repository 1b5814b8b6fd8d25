"""The ankle: two arteries (and the peroneal in need) read as one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from exams.hemodynamics.columns import NO_SIGNAL, NOT_OCCLUDABLE, PRESSURE, VOID, Codes, SiteColumn
from exams.hemodynamics.exact import Booleans, Integers
from exams.hemodynamics.measured import Site

# What an index can be made from. MIXED: one artery cannot be occluded, the other can. NO_FLOW: no signal at
# both arteries. ONE_ABSENT: no signal at the only artery tried.
MISSING, MEASURED, MIXED, STIFF, NO_FLOW, ONE_ABSENT, UNREADABLE = range(7)


@dataclass(frozen=True, slots=True)
class AnkleColumn:
    """The ankles of one side of n exams; every array has shape (n,), pressures in eighths of a mmHg.

    ``numerator``: what the index is made from, by the rule of the criteria. ``highest``, ``lowest``: of the
    arteries measured. ``cuff``: for STIFF the highest cuff pressure reached, 0 unknown.
    """

    state: Codes
    numerator: Integers
    highest: Integers
    lowest: Integers
    cuff: Integers
    one_artery: Booleans
    peroneal: Booleans
    absent_dorsalis_pedis: Booleans
    absent_posterior_tibial: Booleans


def ankle_column(sites: dict[Site, SiteColumn], rule: str) -> AnkleColumn:
    """Both arteries read as one.

    Parameters
    ----------
    sites : dict
        Dorsalis pedis, posterior tibial and peroneal, all three present.
    rule : str
        "higher", "lower", "mean" or "posterior_tibial" (that artery and no other).

    Notes
    -----
    Source: clinical reference 1.1a, 1.2 (numerators) and 1.5 (values that are not plain numbers).
    """
    dorsalis, tibial = sites[Site.DORSALIS_PEDIS], sites[Site.POSTERIOR_TIBIAL]
    peroneal = sites[Site.PERONEAL]
    only_tibial = rule == "posterior_tibial"
    dorsalis_code = np.zeros_like(dorsalis.code) if only_tibial else dorsalis.code
    peroneal_code = np.zeros_like(peroneal.code) if only_tibial else peroneal.code

    pressed_d, pressed_t = dorsalis_code == PRESSURE, tibial.code == PRESSURE
    stiff_d, stiff_t = dorsalis_code == NOT_OCCLUDABLE, tibial.code == NOT_OCCLUDABLE
    absent_d, absent_t = dorsalis_code == NO_SIGNAL, tibial.code == NO_SIGNAL
    answered_d, answered_t = pressed_d | stiff_d | absent_d, pressed_t | stiff_t | absent_t
    pressed, stiff = pressed_d | pressed_t, stiff_d | stiff_t
    nothing = ~pressed & ~stiff
    pressed_p, stiff_p = nothing & (peroneal_code == PRESSURE), nothing & (peroneal_code == NOT_OCCLUDABLE)
    void = (dorsalis_code == VOID) | (tibial.code == VOID) | (nothing & (peroneal_code == VOID))

    highest = np.maximum(np.where(pressed_d, dorsalis.eighths, 0), np.where(pressed_t, tibial.eighths, 0))
    both = pressed_d & pressed_t
    lowest = np.where(both, np.minimum(dorsalis.eighths, tibial.eighths), highest)
    highest = np.where(pressed_p, peroneal.eighths, highest)
    lowest = np.where(pressed_p, peroneal.eighths, lowest)
    if rule == "lower":
        numerator = lowest
    elif rule == "mean":
        # Exact: an artery is a whole number of quarters, so half the sum is whole eighths.
        numerator = np.where(both, (highest + lowest) // 2, highest)
    else:
        numerator = highest

    state = np.select(
        [
            void,
            pressed & stiff,
            pressed | pressed_p,
            stiff | stiff_p,
            absent_d & absent_t,
            absent_d | absent_t | (nothing & (peroneal_code == NO_SIGNAL)),
        ],
        [UNREADABLE, MIXED, MEASURED, STIFF, NO_FLOW, ONE_ABSENT],
        MISSING,
    ).astype(np.int8)
    return AnkleColumn(
        state=state,
        numerator=numerator,
        highest=highest,
        lowest=lowest,
        cuff=_cuff_reached(dorsalis, tibial, peroneal, stiff_d, stiff_t, stiff_p),
        one_artery=(answered_d ^ answered_t) & ~void & (not only_tibial),
        peroneal=(pressed_p | stiff_p) & ~void,
        absent_dorsalis_pedis=absent_d,
        absent_posterior_tibial=absent_t,
    )


def _cuff_reached(
    dorsalis: SiteColumn,
    tibial: SiteColumn,
    peroneal: SiteColumn,
    stiff_d: Booleans,
    stiff_t: Booleans,
    stiff_p: Booleans,
) -> Integers:
    """The highest cuff pressure at which flow went on; 0 if it is unknown at any artery."""
    pairs = ((dorsalis, stiff_d), (tibial, stiff_t), (peroneal, stiff_p))
    reached = np.zeros_like(dorsalis.eighths)
    unknown = np.zeros_like(stiff_d)
    for site, stiff in pairs:
        reached = np.maximum(reached, np.where(stiff, site.eighths, 0))
        unknown |= stiff & (site.eighths == 0)
    return np.where(unknown, 0, reached)
