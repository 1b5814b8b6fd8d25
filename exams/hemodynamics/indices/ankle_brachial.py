"""Ankle-brachial index: ankle systolic over arm systolic (clinical reference 1.1a, 1.2; ACC16, AHA12)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from exams.hemodynamics.columns import PRESSURE
from exams.hemodynamics.indices.index import Foot, Index, Numerator
from exams.hemodynamics.measured import Site
from exams.hemodynamics.words import ANKLE_RULE_WORDS, STIFF_ANKLE

if TYPE_CHECKING:
    from exams.hemodynamics.limb import Limb


def _numerator(foot: Foot) -> Numerator:
    return Numerator(foot.ankle.state, foot.ankle.numerator, foot.ankle.cuff)


def _tried(limb: Limb) -> tuple[Site, ...]:
    return limb.ankle_sites


def _used(limb: Limb) -> tuple[Site, ...]:
    usable = [site for site in limb.ankle_sites if int(limb.column(site).code[0]) == PRESSURE]
    if limb.criteria.ankle.rule == "posterior_tibial":
        return tuple(site for site in usable if site is Site.POSTERIOR_TIBIAL)
    if not limb.has("PERONEAL"):
        usable = [site for site in usable if site is not Site.PERONEAL]
    return tuple(usable)


def _combine(limb: Limb) -> str:
    rule = limb.criteria.ankle.rule
    return rule if rule in ("lower", "mean") else "higher"


def _words(limb: Limb) -> str:
    return Site.PERONEAL.value if limb.has("PERONEAL") else ANKLE_RULE_WORDS[limb.criteria.ankle.rule]


ANKLE_BRACHIAL = Index(
    measure="ankle_brachial_index",
    title="ankle-brachial index",
    site="ankle",
    numerator=_numerator,
    no_flow_band="ABNORMAL_SEVERE",
    no_flow_words="no signal at either ankle artery",
    stiff_words="ankle artery could not be occluded",
    stiff_sentence=STIFF_ANKLE,
    flags=(
        "ABSENT_SIGNAL_DP",
        "ABSENT_SIGNAL_PT",
        "NO_BRACHIAL",
        "SINGLE_ARM",
        "ONE_ARTERY",
        "PERONEAL",
        "MIXED",
        "LOWER_BOUND",
        "LOW_ANKLE_ABNORMAL",
    ),
    tried=_tried,
    used=_used,
    combine=_combine,
    words=_words,
)
