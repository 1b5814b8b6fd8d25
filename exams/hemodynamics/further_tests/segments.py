"""Pressures along the leg with three or four cuffs: thigh index, gradients, side against side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import index_hundredths
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.further_tests.limits import (
    NO_NUMBER,
    further_finding,
    meets,
    mmhg_of,
    shown_mmhg,
)
from exams.hemodynamics.measured import Outcome, Segment, Side, SiteReading
from exams.hemodynamics.words import hundredths

CUFFS: Mapping[int, tuple[Segment, ...]] = {
    3: (Segment.THIGH, Segment.CALF, Segment.ANKLE),
    4: (Segment.HIGH_THIGH, Segment.LOW_THIGH, Segment.CALF, Segment.ANKLE),
}
# Where a fall between two neighbouring cuffs lies (PAGES, confirmed in a secondary source).
LEVEL_WORDS = {
    (Segment.THIGH, Segment.CALF): "femoropopliteal",
    (Segment.LOW_THIGH, Segment.CALF): "femoropopliteal",
    (Segment.CALF, Segment.ANKLE): "tibial",
    (Segment.HIGH_THIGH, Segment.LOW_THIGH): "thigh",
}
CALCIFIED = "stiff arteries: gradients say nothing here, use pulse-volume recording"
GRADIENT_WORDS = {"NORMAL": "normal", "SUSPICIOUS": "suspicious", "SIGNIFICANT": "significant"}
THIGH_WORDS = {
    "NORMAL": "normal",
    "LOW": "low: disease above the thigh cuff is possible",
    "VERY_LOW": "very low: an occlusion above the thigh cuff is likely",
}


@dataclass(frozen=True, slots=True)
class SegmentalLimb:
    """One leg with three or four cuffs. ``calcified``: the limb's arteries are known to be stiff.

    Raises InputError ``segments.cuff_count`` and ``segments.wrong_cuff`` (a cuff of the other set).
    """

    side: Side
    cuffs: int
    pressures: Mapping[Segment, SiteReading]
    calcified: bool = False

    def __post_init__(self) -> None:
        if self.cuffs not in CUFFS:
            raise InputError("segments.cuff_count", "cuffs", self.cuffs, tuple(CUFFS))
        belong = CUFFS[self.cuffs]
        for segment in self.pressures:
            if segment not in belong:
                raise InputError("segments.wrong_cuff", f"{self.side}.{segment}", self.cuffs, belong)

    @property
    def is_stiff(self) -> bool:
        """Known to be, or a cuff here could not close the artery."""
        outcomes = [reading.outcome for reading in self.pressures.values()]
        return self.calcified or Outcome.NOT_OCCLUDABLE in outcomes

    @property
    def thigh(self) -> Segment:
        return CUFFS[self.cuffs][0]


def segmental_findings(
    right: SegmentalLimb, left: SegmentalLimb, arm: SiteReading, criteria: Criteria
) -> tuple[Finding, ...]:
    """Thigh index and gradients of each limb, RIGHT first, then side against side, then the pattern.

    Raises
    ------
    InputError
        ``segments.cuff_sets_differ`` where the two legs were measured with different cuffs.

    Notes
    -----
    Source: PAGES (confirmed in a secondary source), clinical reference 5.2. A calcified limb has none.
    """
    if right.cuffs != left.cuffs:
        raise InputError("segments.cuff_sets_differ", "cuffs", left.cuffs, right.cuffs)
    found: list[Finding] = []
    thighs = []
    for limb in (right, left):
        thigh = _thigh_index(limb, arm, criteria)
        thighs.append(thigh)
        found += [thigh, *_gradients(limb, criteria)]
    found += [_side_to_side(right, left, segment, criteria) for segment in CUFFS[right.cuffs]]
    pattern = _inflow_pattern(thighs[0], thighs[1], criteria)
    return tuple(found + ([pattern] if pattern else []))


def _thigh_index(limb: SegmentalLimb, arm: SiteReading, criteria: Criteria) -> Finding:
    name = "thigh_4_cuff_normal_hundredths" if limb.cuffs == 4 else "thigh_3_cuff_normal_hundredths"
    limit, words = criteria.further[name], limb.thigh.words
    reading = limb.pressures.get(limb.thigh)
    thigh, upper = mmhg_of(reading), mmhg_of(arm)
    if limb.is_stiff or thigh is None or upper is None or reading is None:
        why = CALCIFIED if limb.is_stiff else f"{words} or arm pressure missing"
        return further_finding(criteria, "thigh_index", limb.side, NotStated(why), "index", limit)
    index = index_hundredths(reading.half_mmhg or 0, arm.half_mmhg or 0)
    band = "NORMAL" if meets(criteria, name, index) else "LOW"
    # The second limit is of the narrow high-thigh cuff only.
    if limb.cuffs == 4 and meets(criteria, "thigh_occlusion_hundredths", index):
        band, limit = "VERY_LOW", criteria.further["thigh_occlusion_hundredths"]
    near_arm = limb.cuffs == 4 and meets(criteria, "thigh_above_arm_mmhg", thigh - upper)
    return further_finding(
        criteria, "thigh_index", limb.side, hundredths(index), "index", limit, band=band,
        band_words=THIGH_WORDS[band],
        flags=("THIGH_NEAR_ARM",) if near_arm else (),
        said=f"{limb.side.word} {words} index {hundredths(index)}, {THIGH_WORDS[band]}",
    )  # fmt: skip


def _gradients(limb: SegmentalLimb, criteria: Criteria) -> list[Finding]:
    levels = CUFFS[limb.cuffs]
    return [_gradient(limb, upper, lower, criteria) for upper, lower in pairwise(levels)]


def _gradient(limb: SegmentalLimb, upper: Segment, lower: Segment, criteria: Criteria) -> Finding:
    name = f"gradient_{upper}_{lower}"
    limit = criteria.further["segment_gradient_significant_mmhg"]
    above, below = mmhg_of(limb.pressures.get(upper)), mmhg_of(limb.pressures.get(lower))
    if limb.is_stiff or above is None or below is None:
        why = CALCIFIED if limb.is_stiff else f"{upper.words} or {lower.words} pressure missing"
        return further_finding(criteria, name, limb.side, NotStated(why), "mmHg", limit)
    fall = above - below
    band = "NORMAL"
    if meets(criteria, "segment_gradient_suspicious_mmhg", fall):
        band = "SUSPICIOUS"
        if meets(criteria, "segment_gradient_significant_mmhg", fall):
            band = "SIGNIFICANT"
        else:
            limit = criteria.further["segment_gradient_suspicious_mmhg"]
    reverse = meets(criteria, "segment_reverse_gradient_mmhg", -fall)
    said = ""
    if band != "NORMAL":
        where = LEVEL_WORDS[upper, lower]
        said = f"{limb.side.word} {upper.words} to {lower.words}: {GRADIENT_WORDS[band]} fall of "
        said += f"{shown_mmhg(fall)} mmHg ({where} level)"
    elif reverse:
        above_by = shown_mmhg(-fall)
        said = f"{limb.side.word} {lower.words} reads {above_by} mmHg above {upper.words}: check the cuffs"
    return further_finding(
        criteria, name, limb.side, shown_mmhg(fall), "mmHg", limit, band=band,
        band_words=GRADIENT_WORDS[band],
        flags=("REVERSE_GRADIENT",) if reverse else (), said=said,
    )  # fmt: skip


def _side_to_side(right: SegmentalLimb, left: SegmentalLimb, segment: Segment, criteria: Criteria) -> Finding:
    limit, name = criteria.further["side_to_side_mmhg"], f"side_difference_{segment}"
    values = [mmhg_of(limb.pressures.get(segment)) for limb in (right, left)]
    if right.is_stiff or left.is_stiff or None in values:
        stiff = right.is_stiff or left.is_stiff
        why = CALCIFIED if stiff else f"{segment.words} not measured on both sides"
        return further_finding(criteria, name, None, NotStated(why), "mmHg", limit)
    difference = (values[0] or Fraction(0)) - (values[1] or Fraction(0))
    beyond = meets(criteria, "side_to_side_mmhg", abs(difference))
    lower = Side.LEFT if difference > 0 else Side.RIGHT
    said = f"{segment.words} {shown_mmhg(abs(difference))} mmHg lower on the {lower.word}"
    return further_finding(
        criteria, name, None, shown_mmhg(abs(difference)), "mmHg", limit,
        band="SIGNIFICANT" if beyond else "NORMAL", band_words="significant" if beyond else "normal",
        said=said if beyond else "",
    )  # fmt: skip


def _inflow_pattern(right: Finding, left: Finding, criteria: Criteria) -> Finding | None:
    """Both thighs low points to the aorta or both iliacs, one to its iliac; none where either is unknown."""
    if isinstance(right.value, NotStated) or isinstance(left.value, NotStated):
        return None
    low = [one.limb for one in (right, left) if one.band != "NORMAL" and one.limb]
    if not low:
        return None
    both = len(low) == 2
    words = "aortoiliac disease" if both else f"{low[0].word} iliac disease"
    return further_finding(
        criteria, "inflow_pattern", None if both else low[0], NO_NUMBER, "",
        criteria.further["thigh_4_cuff_normal_hundredths"],
        shown=words, band="AORTOILIAC" if both else "ILIAC", band_words=words,
        rule="both thighs low: aortoiliac; one: iliac",
        said=f"{'both thighs are' if both else 'one thigh is'} low: {words} is likely",
    )  # fmt: skip
