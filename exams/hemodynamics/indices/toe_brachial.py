"""Toe-brachial index: toe systolic over arm systolic (clinical reference 1.1e).

A toe artery that cannot be occluded or a toe without signal gives no index (1.5); neither is good flow.
"""

from __future__ import annotations

import numpy as np

from exams.hemodynamics.ankle import MEASURED, MISSING, NO_FLOW, STIFF, UNREADABLE
from exams.hemodynamics.columns import NO_SIGNAL, NOT_OCCLUDABLE, PRESSURE, VOID
from exams.hemodynamics.criteria.model import NOT_ASSESSED
from exams.hemodynamics.indices.index import Foot, Index, Numerator

_STATES = np.full(6, MISSING, np.int8)
_STATES[[PRESSURE, NOT_OCCLUDABLE, NO_SIGNAL, VOID]] = (MEASURED, STIFF, NO_FLOW, UNREADABLE)


def _numerator(foot: Foot) -> Numerator:
    site = foot.toe.site
    state = _STATES[site.code]
    return Numerator(
        state, np.where(state == MEASURED, site.eighths, 0), np.where(state == STIFF, site.eighths, 0)
    )


TOE_BRACHIAL = Index(
    measure="toe_brachial_index",
    title="toe-brachial index",
    site="toe",
    numerator=_numerator,
    no_flow_band=NOT_ASSESSED,
)
