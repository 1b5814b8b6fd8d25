"""From readings to indices, bands, pattern and flags: the one implementation, on arrays.

``interpret`` calls this with one exam, the bulk command with thousands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from exams.hemodynamics import bands
from exams.hemodynamics.ankle import (
    MEASURED,
    MIXED,
    NO_FLOW,
    ONE_ABSENT,
    STIFF,
    UNREADABLE,
    AnkleColumn,
    ankle_column,
)
from exams.hemodynamics.arms import ArmColumns, arm_columns
from exams.hemodynamics.columns import (
    NO,
    NO_SIGNAL,
    NOT_ASKED,
    NOT_OCCLUDABLE,
    PRESSURE,
    VOID,
    YES,
    Codes,
    ExamColumns,
    LimbColumns,
    SiteColumn,
    ToeColumn,
    empty_attempts,
    site_column,
    toe_column,
)
from exams.hemodynamics.criteria.model import Criteria, Threshold
from exams.hemodynamics.exact import (
    EIGHTHS,
    TEN_THOUSANDTHS_IN_AN_EIGHTH,
    Booleans,
    Integers,
    index_hundredths,
)
from exams.hemodynamics.indices import ALL_INDICES, Foot, IndexColumn, index_column
from exams.hemodynamics.measured import ANKLE_SITES, Side, Site


@dataclass(frozen=True, slots=True)
class LimbResult:
    """One side of n exams, every array of shape (n,).

    ``toe_class``: how the toe enters the pattern. ``gradient`` in eighths of a mmHg where ``has_gradient``.
    ``pattern`` is a place in ``PATTERNS``.
    ``urgent_by`` holds each rule of urgency by name ("ankle", "index", "toe", "no_ankle_signal",
    "no_toe_signal"). ``flags`` holds
    every flag of ``FLAGS`` that this side may raise, the arms' among them.
    """

    sites: Mapping[Site, SiteColumn]
    ankle: AnkleColumn
    toe: ToeColumn
    toe_class: Codes
    indices: Mapping[str, IndexColumn]
    ankle_band: Codes
    toe_band: Codes
    pattern: Codes
    gradient: Integers
    has_gradient: Booleans
    urgent_by: Mapping[str, Booleans]
    flags: Mapping[str, Booleans]


@dataclass(frozen=True, slots=True)
class ExamResult:
    """n exams under one set of criteria."""

    arms: ArmColumns
    right: LimbResult
    left: LimbResult

    def limb(self, side: Side) -> LimbResult:
        return self.right if side is Side.RIGHT else self.left


def evaluate(exams: ExamColumns, criteria: Criteria) -> ExamResult:
    """Everything that follows from the readings of n exams alone and the facts of their feet.

    Source: clinical reference 1, 2 and 4.1, under the limits of the criteria.
    """
    arms = arm_columns(exams, criteria)
    may_mislead = _may_mislead(exams)
    right = _limb(exams, exams.right, arms, may_mislead, criteria)
    left = _limb(exams, exams.left, arms, may_mislead, criteria)
    return ExamResult(arms, right, left)


def _may_mislead(exams: ExamColumns) -> Booleans:
    """Diabetes or kidney disease is yes or unknown; an answer that was never asked for is left out."""
    kidneys_clear = (exams.kidney_disease == NO) | (exams.kidney_disease == NOT_ASKED)
    return np.asarray((exams.diabetes != NO) | ~kidneys_clear)


def _limb(
    exams: ExamColumns, limb: LimbColumns, arms: ArmColumns, may_mislead: Booleans, criteria: Criteria
) -> LimbResult:
    apart = criteria.thresholds["repeats_apart_mmhg"].limit * EIGHTHS
    nothing = empty_attempts(exams.rows)
    sites = {site: site_column(limb.ankle.get(site, nothing), apart) for site in ANKLE_SITES}
    toes = {site: site_column(attempts, apart) for site, attempts in limb.toes.items()}
    foot = Foot(ankle_column(sites, criteria.ankle.rule), toe_column(toes, exams.rows))
    indices = {i.measure: index_column(i, foot, arms.denominator, criteria) for i in ALL_INDICES}
    ankle_index, toe_index = indices["ankle_brachial_index"], indices["toe_brachial_index"]
    ankle_band = _ankle_band(foot.ankle, ankle_index, criteria)
    toe_band = _toe_band(foot.toe, criteria)
    measured = foot.ankle.state == MEASURED
    toe_measured = foot.toe.site.code == PRESSURE
    has_gradient = measured & toe_measured
    gradient = np.where(has_gradient, foot.ankle.highest - foot.toe.site.eighths, 0)
    toe_class = _toe_class(foot.toe, toe_index)
    found = bands.pattern(
        _ankle_class(foot.ankle, ankle_index, arms.denominator),
        toe_class,
        may_mislead | limb.open_wound,
        foot.ankle.one_artery & limb.open_wound,
        arms.void | (foot.ankle.state == UNREADABLE) | (foot.toe.site.code == VOID),
    )
    urgent_by = _urgent_by(limb, foot, ankle_index, arms, criteria)
    urgency = _urgency(limb, foot, ankle_index, toe_index, urgent_by, criteria)
    flags = {
        **urgency,
        **_plain_flags(exams, limb, foot, ankle_index, arms, criteria),
        "GRADIENT_HIGH": has_gradient & criteria.thresholds["gradient_mmhg"].met_by_eighths(gradient),
        "GRADIENT_NOT_INTERPRETABLE": _ankle_unreliable(foot.ankle, ankle_index) & toe_measured,
        "REPEATS_APART": _any([column.apart for column in (*sites.values(), *toes.values())], exams.rows),
    }
    return LimbResult(
        sites={**sites, **toes},
        ankle=foot.ankle,
        toe=foot.toe,
        toe_class=toe_class,
        indices=indices,
        ankle_band=ankle_band,
        toe_band=toe_band,
        pattern=found,
        gradient=gradient,
        has_gradient=has_gradient,
        urgent_by=urgent_by,
        flags=flags,
    )


def _any(columns: list[Booleans], rows: int) -> Booleans:
    found = np.zeros(rows, bool)
    for column in columns:
        found = found | column
    return found


def _ankle_unreliable(ankle: AnkleColumn, index: IndexColumn) -> Booleans:
    """The ankle pressure cannot be trusted: stiff by the cuff, by the index, or in one of two arteries."""
    return np.asarray(
        (ankle.state == STIFF)
        | (ankle.state == MIXED)
        | ((ankle.state == MEASURED) & bands.is_band(index.band, "NON_COMPRESSIBLE"))
    )


def _ankle_band(ankle: AnkleColumn, index: IndexColumn, criteria: Criteria) -> Codes:
    """WIfI band of the ankle pressure; a stiff ankle is not assessed, a mixed one may only raise it."""
    band = bands.pressure_band(
        np.where((ankle.state == MEASURED) | (ankle.state == MIXED), ankle.highest, 0),
        criteria.pressure_bands["ankle_pressure"],
    )
    reassuring = bands.is_band(band, "WIFI_0", "WIFI_1")
    stiff = (ankle.state == MEASURED) & bands.is_band(index.band, "NON_COMPRESSIBLE")
    band = np.where(stiff | ((ankle.state == MIXED) & reassuring), bands.UNASSESSED, band)
    # No flow at either artery is below every limit.
    return np.where(ankle.state == NO_FLOW, bands.BAND_NUMBER["WIFI_3"], band).astype(np.int8)


def _toe_band(toe: ToeColumn, criteria: Criteria) -> Codes:
    """WIfI band of the toe pressure; a flat trace lies below every limit until a warm repeat differs."""
    pressure = np.where(toe.site.code == PRESSURE, toe.site.eighths, 0)
    band = bands.pressure_band(pressure, criteria.pressure_bands["toe_pressure"])
    return np.where(toe.site.code == NO_SIGNAL, bands.BAND_NUMBER["WIFI_3"], band).astype(np.int8)


def _ankle_class(ankle: AnkleColumn, index: IndexColumn, denominator: Integers) -> Codes:
    has_arm = denominator > 0
    # A peroneal pressure gives an index, but never reassures where both named arteries are silent.
    no_signal_at_both = ankle.absent_dorsalis_pedis & ankle.absent_posterior_tibial
    return np.select(
        [
            no_signal_at_both,
            ~has_arm,
            ankle.state == MIXED,
            (ankle.state == STIFF) | bands.is_band(index.band, "NON_COMPRESSIBLE"),
            bands.is_abnormal(index.band),
            bands.is_band(index.band, "BORDERLINE"),
            bands.is_band(index.band, "NORMAL"),
        ],
        [
            bands.ANKLE_NO_FLOW,
            bands.ANKLE_NONE,
            bands.ANKLE_MIXED,
            bands.ANKLE_STIFF,
            bands.ANKLE_LOW,
            bands.ANKLE_BORDERLINE,
            bands.ANKLE_NORMAL,
        ],
        bands.ANKLE_NONE,
    ).astype(np.int8)


def _toe_class(toe: ToeColumn, index: IndexColumn) -> Codes:
    """How the toe enters the pattern, shape (n,); below detection counts as low (clinical reference 2.2)."""
    low = bands.is_abnormal(index.band) | (toe.site.code == NO_SIGNAL)
    return np.select(
        [low, bands.is_band(index.band, "NORMAL")], [bands.TOE_LOW, bands.TOE_NORMAL], bands.TOE_MISSING
    ).astype(np.int8)


def _met(threshold: Threshold, ten_thousandths: Integers) -> Booleans:
    """Whether pressures above 0, in ten-thousandths of a mmHg, meet a limit in whole mmHg."""
    limit = threshold.limit * EIGHTHS * TEN_THOUSANDTHS_IN_AN_EIGHTH
    return np.asarray(ten_thousandths < limit if threshold.operator == "<" else ten_thousandths <= limit)


def _lowered(eighths: Integers, limb: LimbColumns) -> Integers:
    """The lower of measured and height-corrected pressure, in ten-thousandths of a mmHg, shape (n,).

    It stays above 0: however far the foot hangs down, its pressure is low, not absent.
    """
    return np.asarray(np.maximum(eighths * TEN_THOUSANDTHS_IN_AN_EIGHTH - limb.lowering, 1))


def _urgent_by(
    limb: LimbColumns, foot: Foot, ankle_index: IndexColumn, arms: ArmColumns, criteria: Criteria
) -> dict[str, Booleans]:
    """Each rule that makes a limb urgent, by name, shape (n,); False also where it cannot be known."""
    limits = criteria.thresholds
    ankle, toe = foot.ankle, foot.toe
    ankle_counts = (ankle.state == MEASURED) | (ankle.state == MIXED)
    low_index = np.zeros(ankle.state.shape, bool)
    if "urgent_abi_hundredths" in limits:
        arm = np.where(arms.denominator > 0, arms.denominator, 1) * TEN_THOUSANDTHS_IN_AN_EIGHTH
        lowered = index_hundredths(_lowered(ankle.numerator, limb), arm)
        low_index = (ankle_index.hundredths >= 0) & limits["urgent_abi_hundredths"].met_by(lowered)
    return {
        "ankle": ankle_counts & _met(limits["urgent_ankle_mmhg"], _lowered(ankle.highest, limb)),
        "index": low_index,
        "toe": (toe.lowest > 0) & _met(limits["urgent_toe_mmhg"], _lowered(toe.lowest, limb)),
        "no_ankle_signal": ankle.absent_dorsalis_pedis & ankle.absent_posterior_tibial,
        "no_toe_signal": toe.any_flat,
    }


def _urgency(
    limb: LimbColumns,
    foot: Foot,
    ankle_index: IndexColumn,
    toe_index: IndexColumn,
    urgent_by: Mapping[str, Booleans],
    criteria: Criteria,
) -> dict[str, Booleans]:
    """Who must be told (clinical reference 4.1), on the lower of measured and height-corrected value."""
    limits = criteria.thresholds
    ankle, toe = foot.ankle, foot.toe
    ankle_counts = (ankle.state == MEASURED) | (ankle.state == MIXED)
    ankle_low = _lowered(ankle.highest, limb)
    toe_low = _lowered(toe.site.eighths, limb)
    toe_measured = toe.site.code == PRESSURE

    severe = urgent_by["ankle"] | urgent_by["index"] | urgent_by["toe"]
    at_once = urgent_by["no_ankle_signal"] | urgent_by["no_toe_signal"]
    limb_at_stake = limb.open_wound | limb.rest_pain | limb.foot_infection
    urgent = at_once | (severe & limb_at_stake)
    disease = (
        bands.is_abnormal(ankle_index.band)
        | bands.is_abnormal(toe_index.band)
        | at_once
        | ankle.absent_dorsalis_pedis
        | ankle.absent_posterior_tibial
        | (toe_measured & _met(limits["infection_toe_mmhg"], toe_low))
        | (ankle_counts & _met(limits["infection_ankle_mmhg"], ankle_low))
    )
    no_flow_found = (ankle.state == NO_FLOW) | (ankle.state == ONE_ABSENT)
    return {
        "POSSIBLE_ACUTE_ISCHAEMIA": limb.had_signal_before & no_flow_found,
        "INFECTION_WITH_ARTERIAL_DISEASE": limb.foot_infection & disease,
        "URGENT_VASCULAR": urgent,
        "SEVERE_ISCHAEMIA": severe & ~urgent,
        "TOE_LT_50_WITH_WOUND": limb.open_wound
        & ((toe_measured & _met(limits["toe_wound_mmhg"], toe_low)) | (toe.site.code == NO_SIGNAL)),
        "ANKLE_LT_70_WITH_WOUND": limb.open_wound
        & ((ankle_counts & _met(limits["ankle_wound_mmhg"], ankle_low)) | (ankle.state == NO_FLOW)),
    }


def _plain_flags(
    exams: ExamColumns,
    limb: LimbColumns,
    foot: Foot,
    ankle_index: IndexColumn,
    arms: ArmColumns,
    criteria: Criteria,
) -> dict[str, Booleans]:
    ankle, toe = foot.ankle, foot.toe
    limits = criteria.thresholds
    abnormal_hi = criteria.abnormal_hi("ankle_brachial_index")
    has_index = (ankle_index.hundredths >= 0) & (ankle.state == MEASURED)
    arm = np.where(arms.denominator > 0, arms.denominator, 1)
    low_abnormal = (
        has_index
        & (ankle_index.hundredths > abnormal_hi)
        & (index_hundredths(ankle.lowest, arm) <= abnormal_hi)
        & (criteria.ankle.rule == "higher")
    )
    boundary = limits.get("ankle_pressure_boundary_mmhg")
    ankle_counts = (ankle.state == MEASURED) | (ankle.state == MIXED)
    at_boundary = (
        np.zeros(exams.rows, bool)
        if boundary is None
        else ankle_counts & (ankle.highest == boundary.limit * EIGHTHS)
    )
    levels = arms.difference_level
    return {
        "ABSENT_SIGNAL_DP": ankle.absent_dorsalis_pedis,
        "ABSENT_SIGNAL_PT": ankle.absent_posterior_tibial,
        "TOE_BELOW_DETECTION": toe.site.code == NO_SIGNAL,
        "TOE_NOT_OCCLUDABLE": toe.site.code == NOT_OCCLUDABLE,
        "NO_BRACHIAL": arms.none,
        "SINGLE_ARM": arms.single,
        "IAD_20": levels == 3,
        "IAD_15": levels == 2,
        "IAD_10": levels == 1,
        "ONE_ARTERY": ankle.one_artery,
        "PERONEAL": ankle.peroneal,
        "MIXED": ankle.state == MIXED,
        "LOWER_BOUND": (ankle.state == STIFF) & ~bands.is_band(ankle_index.band, "NON_COMPRESSIBLE"),
        "LOW_ANKLE_ABNORMAL": low_abnormal,
        "BOUNDARY": at_boundary,
        "TOE_55": limb.open_wound
        & (exams.diabetes == YES)
        & (toe.site.code == PRESSURE)
        & limits["toe_healing_mmhg"].met_by_eighths(toe.site.eighths),
    }
