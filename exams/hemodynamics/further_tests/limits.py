"""The limits of the further tests, each with its operator, source and how well it was confirmed.

One place, so that criteria of a later version can take them over. Source: clinical reference 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.criteria.model import Threshold
from exams.hemodynamics.findings import Finding, Interval, NotStated
from exams.hemodynamics.measured import Outcome, Side, SiteReading
from exams.hemodynamics.words import mmhg_words, sentence

PRIMARY, SECONDARY = "confirmed in the primary text", "confirmed in a secondary source"
MEMORY = "from memory, not confirmed"
OURS = "design, needs clinical sign-off"

FURTHER_SOURCES: Mapping[str, str] = {
    "AHA12": "Aboyans V, Criqui MH, Abraham P, et al. Circulation 2012;126:2890-2909, as quoted in KYTE23",
    "KYTE23": "Kyte KH, Lunde C, Hisdal J. Clin Pract 2023;13:529-536",
    "ARMSTRONG17": "Armstrong DWJ, Tobin C, Matangi MF. Clin Cardiol 2017;40:1163-1168",
    "PAGES": "Pages of vascular laboratories, hospitals and textbooks (secondary)",
    "KIM20": "Kim ESH, et al. SVM/SVU consensus on Doppler waveforms. Vasc Med 2020;25:484-506",
    "RAINES": "Raines, categories of pulse-volume recording",
    "WIFI14": "Mills JL, Conte MS, Armstrong DG, et al. J Vasc Surg 2014;59:220-234",
    "RUTH97": "Rutherford RB, Baker JD, Ernst C, et al. J Vasc Surg 1997;26:517-538",
    "PRACTICE": "Common practice in vascular laboratories, no source",
    "OURS": "Rule of this software, no published rule found; the clinic's medical lead signs it off",
}
FURTHER_LIMITS: Mapping[str, Threshold] = {
    "exercise_drop_percent": Threshold(">", 20, "AHA12", PRIMARY),
    "exercise_ankle_fall_mmhg": Threshold(">", 30, "AHA12", PRIMARY),
    "exercise_index_hundredths": Threshold("<", 90, "ARMSTRONG17", PRIMARY),
    "exercise_recovery_s": Threshold(">", 180, "PRACTICE", MEMORY),
    "exercise_first_reading_s": Threshold(">", 60, "PRACTICE", MEMORY),
    "thigh_4_cuff_normal_hundredths": Threshold(">=", 120, "PAGES", SECONDARY),
    "thigh_3_cuff_normal_hundredths": Threshold(">=", 100, "PAGES", SECONDARY),
    "thigh_occlusion_hundredths": Threshold("<", 80, "PRACTICE", MEMORY),
    "thigh_above_arm_mmhg": Threshold("<", 20, "PAGES", SECONDARY),
    "segment_gradient_suspicious_mmhg": Threshold(">=", 20, "PAGES", SECONDARY),
    "segment_gradient_significant_mmhg": Threshold(">", 30, "PAGES", SECONDARY),
    "segment_reverse_gradient_mmhg": Threshold("<", -20, "OURS", OURS),
    "side_to_side_mmhg": Threshold(">", 20, "PAGES", SECONDARY),
    "oxygen_normal_mmhg": Threshold(">", 40, "PAGES", SECONDARY),
    "oxygen_severe_mmhg": Threshold("<", 30, "PAGES", SECONDARY),
    "oxygen_index_good_hundredths": Threshold(">", 60, "PRACTICE", MEMORY),
    "oxygen_index_poor_hundredths": Threshold("<", 40, "PRACTICE", MEMORY),
    "category_1_ankle_mmhg": Threshold(">", 50, "RUTH97", SECONDARY),
    "category_1_fall_mmhg": Threshold(">=", 20, "RUTH97", SECONDARY),
    "category_3_ankle_mmhg": Threshold("<", 50, "RUTH97", SECONDARY),
    "category_4_ankle_mmhg": Threshold("<", 40, "RUTH97", SECONDARY),
    "category_4_toe_mmhg": Threshold("<", 30, "RUTH97", SECONDARY),
    "category_5_ankle_mmhg": Threshold("<", 60, "RUTH97", SECONDARY),
    "category_5_toe_mmhg": Threshold("<", 40, "RUTH97", SECONDARY),
    "fontaine_pain_free_m": Threshold("<", 200, "PRACTICE", MEMORY),
}


NO_NUMBER = NotStated("a judgement has no number")


def meets(name: str, value: Fraction | int) -> bool:
    """Whether an exact value, in the limit's own unit, meets it: no float decides."""
    limit = FURTHER_LIMITS[name]
    return {
        "<": value < limit.limit,
        "<=": value <= limit.limit,
        ">": value > limit.limit,
        ">=": value >= limit.limit,
    }[limit.operator]


def mmhg_of(reading: SiteReading | None) -> Fraction | None:
    """The exact pressure; None where there is no number."""
    if reading is None or reading.outcome is not Outcome.PRESSURE or reading.half_mmhg is None:
        return None
    return Fraction(reading.half_mmhg, 2)


def shown_mmhg(value: Fraction) -> Decimal:
    """Whole or half mmHg as it is."""
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact.normalize()


def further_finding(
    measure: str,
    limb: Side | None,
    value: Decimal | NotStated,
    unit: str,
    limit: Threshold,
    *,
    band: str = "",
    band_words: str = "",
    said: str = "",
    flags: tuple[str, ...] = (),
    rule: str = "",
    shown: str = "",
) -> Finding:
    """A finding of a further test; no repeatability is published for any, so none has an interval."""
    if isinstance(value, NotStated):
        shown = shown or value.reason
    else:
        plain = mmhg_words(value) if unit == "mmHg" else f"{value}{f' {unit}' if unit != 'index' else ''}"
        shown = shown or plain
    interval: Interval | NotStated = NotStated("no published repeatability")
    return Finding(
        measure, limb, value, unit, shown, interval, band, band_words, flags, sentence(said),
        rule or f"{limit.words} counts", limit.source, limit.status,
    )  # fmt: skip
