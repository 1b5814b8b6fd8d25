"""Toe-brachial index: toe systolic over arm systolic (clinical reference 1.1e).

A toe artery that cannot be occluded or a toe without signal gives no index (1.5); neither is good flow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from exams.hemodynamics.ankle import MEASURED, MISSING, NO_FLOW, STIFF, UNREADABLE
from exams.hemodynamics.columns import NO_SIGNAL, NOT_OCCLUDABLE, PRESSURE, VOID
from exams.hemodynamics.criteria.model import NOT_ASSESSED
from exams.hemodynamics.indices.index import Foot, Index, Numerator
from exams.hemodynamics.measured import Site

if TYPE_CHECKING:
    from exams.hemodynamics.limb import Limb

_STATES = np.full(6, MISSING, np.int8)
_STATES[[PRESSURE, NOT_OCCLUDABLE, NO_SIGNAL, VOID]] = (MEASURED, STIFF, NO_FLOW, UNREADABLE)


def _numerator(foot: Foot) -> Numerator:
    site = foot.toe.site
    state = _STATES[site.code]
    return Numerator(
        state, np.where(state == MEASURED, site.eighths, 0), np.where(state == STIFF, site.eighths, 0)
    )


def _tried(limb: Limb) -> tuple[Site, ...]:
    return limb.toe_sites


def _used(limb: Limb) -> tuple[Site, ...]:
    toe = limb.deciding_toe
    return (toe,) if toe is not None and int(limb.column(toe).code[0]) == PRESSURE else ()


def _combine(_: Limb) -> str:
    return "higher"


def _words(limb: Limb) -> str:
    toe = limb.deciding_toe
    return "toe" if toe is None else toe.value


TOE_BRACHIAL = Index(
    measure="toe_brachial_index",
    title="toe-brachial index",
    site="toe",
    numerator=_numerator,
    no_flow_band=NOT_ASSESSED,
    no_flow_words="no signal at the toe",
    stiff_words="toe artery could not be occluded",
    stiff_sentence="",
    flags=("TOE_BELOW_DETECTION", "TOE_NOT_OCCLUDABLE", "NO_BRACHIAL", "SINGLE_ARM"),
    tried=_tried,
    used=_used,
    combine=_combine,
    words=_words,
)
