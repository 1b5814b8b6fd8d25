"""Ankle-brachial index: ankle systolic over arm systolic (clinical reference 1.1a, 1.2; ACC16, AHA12)."""

from __future__ import annotations

from exams.hemodynamics.indices.index import Foot, Index, Numerator


def _numerator(foot: Foot) -> Numerator:
    return Numerator(foot.ankle.state, foot.ankle.numerator, foot.ankle.cuff)


ANKLE_BRACHIAL = Index(
    measure="ankle_brachial_index",
    title="ankle-brachial index",
    site="ankle",
    numerator=_numerator,
    no_flow_band="ABNORMAL_SEVERE",
)
