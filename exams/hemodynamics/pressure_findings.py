"""The findings of single pressures of one limb: arteries, ankle, toes, their gradient, the toe's warmth."""

from __future__ import annotations

from decimal import Decimal

import numpy as np

from exams.hemodynamics.ankle import MEASURED, MIXED, NO_FLOW, ONE_ABSENT, STIFF
from exams.hemodynamics.bands import BANDS, index_band, pressure_band
from exams.hemodynamics.columns import NO_SIGNAL, NOT_OBTAINED, NOT_OCCLUDABLE, PRESSURE
from exams.hemodynamics.criteria.model import BAND_WORDS
from exams.hemodynamics.exact import EIGHTHS, index_hundredths, mmhg
from exams.hemodynamics.findings import Finding, Interval, NotStated
from exams.hemodynamics.indices import ANKLE_BRACHIAL
from exams.hemodynamics.limb import Limb, band_of_pressure, corrected_words, reason_of
from exams.hemodynamics.measured import Site
from exams.hemodynamics.noise import Combined
from exams.hemodynamics.words import ANKLE_RULE_WORDS, joined, listed, mmhg_words, reading_shown

NO_NUMBER = NotStated("there is no pressure")


def ankle_pressure_finding(limb: Limb) -> Finding:
    """The ankle as one absolute pressure (the higher artery), banded as WIfI bands it."""
    ankle = limb.result.ankle
    state = int(ankle.state[0])
    band = BANDS[int(limb.result.ankle_band[0])]
    steps = limb.criteria.pressure_bands["ankle_pressure"]
    step = band_of_pressure(steps, band) or steps[-1]
    eighths = int(ankle.highest[0]) if state in (MEASURED, MIXED) else 0
    combined = limb.numerator(ANKLE_BRACHIAL)
    interval: Interval | NotStated = NO_NUMBER
    if eighths and combined is not None:
        interval = limb.read.pressure_interval(Combined("higher", combined.readings), steps)
    shown = corrected_words(eighths, limb.height) if eighths else _ankle_shown(limb, state)
    return Finding(
        measure="ankle_pressure",
        limb=limb.side,
        value=mmhg(eighths) if eighths else NotStated(_ankle_reason(limb, state)),
        unit="mmHg",
        shown=f"{shown} (unreliable)" if state == MIXED else shown,
        interval=interval,
        band=band,
        band_words=BAND_WORDS[band],
        flags=(*limb.flags("ankle_pressure"), *_posture_flags(limb, bool(eighths))),
        sentence=_ankle_sentence(limb, state, shown),
        rule=f"{limb.criteria.label}: {ANKLE_RULE_WORDS['higher']}, WIfI ischaemia by ankle pressure",
        source=step.source,
        status=step.status,
        inputs=tuple(limb.input(site) for site in limb.ankle_sites),
    )


def _posture_flags(limb: Limb, has_pressure: bool) -> tuple[str, ...]:
    if not has_pressure or not limb.not_flat:
        return ()
    return ("PROVISIONAL",) if limb.height is None else ("PROVISIONAL", "HEIGHT_CORRECTED")


def _ankle_shown(limb: Limb, state: int) -> str:
    if state == STIFF:
        cuff = int(limb.result.ankle.cuff[0])
        return f"cannot be occluded at {mmhg(cuff)} mmHg" if cuff else "cannot be occluded"
    return "no signal" if state in (NO_FLOW, ONE_ABSENT) else "not stated"


def _ankle_reason(limb: Limb, state: int) -> str:
    if state == STIFF:
        return "ankle artery could not be occluded"
    if state == NO_FLOW:
        return "no signal at either ankle artery"
    if state == ONE_ABSENT:
        return "no signal at the only ankle artery tried"
    reasons = [reason for site in limb.ankle_sites if (reason := reason_of(limb.attempts(site)))]
    return "; ".join(dict.fromkeys(reasons)) if reasons else "ankle pressure not measured"


def _ankle_sentence(limb: Limb, state: int, shown: str) -> str:
    parts = []
    if state == ONE_ABSENT:
        parts.append(f"{limb.word} no signal at the only ankle artery tried: look for the other artery")
    elif limb.has("ONE_ARTERY") and state != STIFF and not limb.has("PERONEAL"):
        (measured,) = (s for s in limb.ankle_sites if _answered(limb, s) and s is not Site.PERONEAL)
        parts.append(
            f"{limb.word} only the {measured.words} artery measured: measure both, the other may be higher"
        )
    if state == MIXED:
        parts.append(
            f"{limb.word} one ankle artery cannot be occluded: the index from the other is not reliable; "
            "use the toe measurement"
        )
    elif state != ONE_ABSENT and not (limb.has("ABSENT_SIGNAL_DP") and limb.has("ABSENT_SIGNAL_PT")):
        # Silent at both, the urgency and the pattern say it.
        for flag, site in (
            ("ABSENT_SIGNAL_DP", Site.DORSALIS_PEDIS),
            ("ABSENT_SIGNAL_PT", Site.POSTERIOR_TIBIAL),
        ):
            if limb.has(flag):
                parts.append(f"{limb.word} no signal at the {site.words} artery")
    if limb.has("LOWER_BOUND"):
        parts.append(
            f"{limb.word} ankle {shown}: the cuff stopped too low to tell; inflate higher or use the toe"
        )
    if limb.has("PERONEAL"):
        parts.append(f"{limb.word} ankle pressure taken at the peroneal artery: the other two gave nothing")
    if limb.has("BOUNDARY"):
        parts.append(f"{limb.word} ankle pressure 70 mmHg lies on the line between WIfI ischaemia 1 and 2")
    told = state == NO_FLOW or limb.meets("urgent_ankle_mmhg", int(limb.result.ankle.highest[0]))
    if limb.has("ANKLE_LT_70_WITH_WOUND") and not told:
        limit = limb.criteria.thresholds["ankle_wound_mmhg"].words
        parts.append(f"{limb.word} ankle pressure {shown} is {limit} with an open wound: healing is in doubt")
    return joined(parts)


def _answered(limb: Limb, site: Site) -> bool:
    return int(limb.column(site).code[0]) in (PRESSURE, NOT_OCCLUDABLE, NO_SIGNAL)


def toe_pressure_findings(limb: Limb) -> list[Finding]:
    """The toe that decides as ``toe_pressure``, further toes as ``toe_2_pressure`` and so on."""
    decides = limb.deciding_toe
    findings = [_toe_finding(limb, decides, "toe_pressure")]
    for site in limb.toe_sites:
        if site is not decides:
            findings.append(_toe_finding(limb, site, f"{site.value}_pressure"))
    return findings


def _toe_finding(limb: Limb, site: Site | None, measure: str) -> Finding:
    steps = limb.criteria.pressure_bands["toe_pressure"]
    column = None if site is None else limb.column(site)
    code = 0 if column is None else int(column.code[0])
    eighths = int(column.eighths[0]) if column is not None and code == PRESSURE else 0
    if measure == "toe_pressure":
        band = BANDS[int(limb.result.toe_band[0])]
    elif code == NO_SIGNAL:
        band = "WIFI_3"
    else:
        band = BANDS[int(pressure_band(np.array([eighths]), steps)[0])]
    step = band_of_pressure(steps, band) or steps[-1]
    words = "toe" if site is None else site.words
    shown = corrected_words(eighths, limb.height) if eighths else _toe_shown(limb, site, code)
    return Finding(
        measure=measure,
        limb=limb.side,
        value=mmhg(eighths) if eighths else NotStated(_toe_reason(limb, site, code)),
        unit="mmHg",
        shown=shown,
        interval=limb.read.pressure_interval(Combined("higher", (limb.noise(site),)), steps)
        if eighths and site
        else NO_NUMBER,
        band=band,
        band_words=BAND_WORDS[band],
        flags=(*limb.flags(measure), *_toe_condition_flags(limb, measure, code, eighths)),
        sentence=_toe_sentence(limb, site, measure, code, shown),
        rule=f"{limb.criteria.label}: {words}, WIfI ischaemia by toe pressure",
        source=step.source,
        status=step.status,
        inputs=(limb.input(site),) if site is not None else (),
    )


def _toe_condition_flags(limb: Limb, measure: str, code: int, eighths: int) -> tuple[str, ...]:
    if measure != "toe_pressure" or code not in (PRESSURE, NO_SIGNAL):
        return ()
    posture = _posture_flags(limb, bool(eighths))
    return tuple(dict.fromkeys((*posture, "COLD_TOE", "PROVISIONAL"))) if limb.cold else posture


def _toe_shown(limb: Limb, site: Site | None, code: int) -> str:
    if code == NO_SIGNAL:
        return "below detection"
    if site is None:
        return "not stated"
    return reading_shown(limb.column(site), reason_of(limb.attempts(site)))


def _toe_reason(limb: Limb, site: Site | None, code: int) -> str:
    if code == NO_SIGNAL:
        return "toe pressure below detection (no signal)"
    if code == NOT_OCCLUDABLE:
        return "toe artery could not be occluded"
    reason = None if site is None else reason_of(limb.attempts(site))
    return (
        f"toe pressure not obtained: {reason}"
        if code == NOT_OBTAINED and reason
        else "toe pressure not measured"
    )


def _toe_sentence(limb: Limb, site: Site | None, measure: str, code: int, shown: str) -> str:
    if measure != "toe_pressure" or site is None:
        return ""
    parts = []
    if code == NOT_OCCLUDABLE:
        parts.append(
            f"{limb.word} {site.words} artery cannot be occluded: never read this as good flow; "
            "use oxygen pressure at the skin or the waveform"
        )
    elif site is not Site.TOE_1 and code == PRESSURE:
        parts.append(f"{limb.word} toe pressure {shown}, taken at the {site.words}")
    told = code == NO_SIGNAL or limb.meets("urgent_toe_mmhg", int(limb.column(site).eighths[0]))
    if limb.has("TOE_LT_50_WITH_WOUND") and not told:
        limit = limb.criteria.thresholds["toe_wound_mmhg"].words
        parts.append(f"{limb.word} toe pressure {shown} is {limit} with an open wound: healing is in doubt")
    elif site is Site.TOE_1 and code == PRESSURE and limb.denominator is None and not told:
        parts.append(f"{limb.word} toe pressure {shown}")
    return joined(parts)


def site_findings(limb: Limb) -> list[Finding]:
    """Each ankle artery as it was measured; a remark only where its repeats lie far apart."""
    findings = []
    for site in limb.ankle_sites:
        item = limb.input(site)
        findings.append(
            Finding(
                measure=f"{site.value}_pressure",
                limb=limb.side,
                value=NotStated(item.shown) if item.mmhg is None else item.mmhg,
                unit="mmHg",
                shown=item.shown,
                interval=NO_NUMBER
                if item.mmhg is None
                else limb.read.pressure_interval(Combined("higher", (limb.noise(site),)), ()),
                band="",
                band_words="",
                flags=("REPEATS_APART",) if bool(limb.column(site).apart[0]) else (),
                sentence="",
                rule=f"{limb.criteria.label}: mean of two readings, median of more",
                source=limb.criteria.thresholds["repeats_apart_mmhg"].source,
                status=limb.criteria.thresholds["repeats_apart_mmhg"].status,
                inputs=(item,),
            )
        )
    return findings


def repeats_finding(limb: Limb) -> Finding | None:
    """One remark for every site of this side whose repeats lie too far apart; None if none does."""
    limit = limb.criteria.thresholds["repeats_apart_mmhg"]
    # Two readings ask for a third; with three the median has settled it.
    apart = [
        site
        for site in (*limb.ankle_sites, *limb.toe_sites)
        if bool(limb.column(site).apart[0]) and int(limb.column(site).count[0]) == 2
    ]
    if not apart:
        return None
    where = listed([site.words for site in apart])
    return Finding(
        measure="repeats",
        limb=limb.side,
        value=NotStated("a remark has no number"),
        unit="",
        shown=where,
        interval=NotStated("a remark has no number"),
        band="",
        band_words="",
        flags=("REPEATS_APART",),
        sentence=joined(
            [f"{limb.word} {where}: two readings more than {limit.limit} mmHg apart; take a third"]
        ),
        rule=f"{limb.criteria.label}: readings at one site {limit.words} mmHg apart",
        source=limit.source,
        status=limit.status,
        inputs=tuple(limb.input(site) for site in apart),
    )


def gradient_finding(limb: Limb) -> Finding:
    """Ankle minus toe pressure."""
    limit = limb.criteria.thresholds["gradient_mmhg"]
    stated = bool(limb.result.has_gradient[0])
    value: Decimal | NotStated = NotStated("needs an ankle and a toe pressure")
    if stated:
        value = mmhg(int(limb.result.gradient[0]))
    flags = limb.flags("ankle_toe_gradient")
    sentence = ""
    if "GRADIENT_HIGH" in flags and "GRADIENT_NOT_INTERPRETABLE" not in flags:
        sentence = (
            f"{limb.word} toe {value} mmHg below the ankle, {limit.words}: "
            "disease below the ankle is possible"
        )
    return Finding(
        measure="ankle_toe_gradient",
        limb=limb.side,
        value=value,
        unit="mmHg",
        shown="not stated" if isinstance(value, NotStated) else mmhg_words(value),
        interval=NotStated("not computed for a gradient"),
        band="",
        band_words="not interpretable: stiff ankle" if "GRADIENT_NOT_INTERPRETABLE" in flags else "",
        flags=flags,
        sentence=joined([sentence]),
        rule=f"{limb.criteria.label}: higher ankle artery minus toe, high if {limit.words} mmHg",
        source=limit.source,
        status=limit.status,
    )


def toe_temperature_finding(limb: Limb) -> Finding | None:
    """The toe's warmth: one remark for what it does to the reading; None where no toe was tried."""
    celsius = limb.measured.toe_skin_celsius
    if celsius is None and not limb.toe_sites:
        return None
    limit = limb.criteria.thresholds["toe_cold_celsius"]
    flags: tuple[str, ...] = ()
    sentence = ""
    if celsius is None:
        flags = ("TEMP_NOT_RECORDED",)
        sentence = f"{limb.word} toe skin temperature not recorded: a cold toe reads low"
    elif limb.cold:
        effect = limb.criteria.thresholds["toe_cold_effect_mmhg"].limit
        flags = ("COLD_TOE",)
        said = [f"toe pressure may read about {effect} mmHg low"]
        if limb.has("TOE_BELOW_DETECTION"):
            said = []
        if warming_could_change(limb):
            flags = ("COLD_TOE", "WARM_AND_REPEAT")
            said.append("warm the room and the foot with blankets (no direct heat) and measure again")
        sentence = f"{limb.word} toe skin {celsius} °C, {limit.words}: {'; '.join(said)}"
    return Finding(
        measure="toe_skin_temperature",
        limb=limb.side,
        value=NotStated("not recorded") if celsius is None else celsius,
        unit="°C",
        shown="not recorded" if celsius is None else f"{celsius} °C",
        interval=NotStated("not computed for a temperature"),
        band="",
        band_words="",
        flags=flags,
        sentence=joined([sentence]),
        rule=f"{limb.criteria.label}: cold {limit.words} °C",
        source=limit.source,
        status=limit.status,
    )


def warming_could_change(limb: Limb) -> bool:
    """Whether a toe warmer by the published effect would fall in another band, or give a signal at all.

    Source: readings 10 mmHg lower below 30 °C (SAWKA92); asking only where it matters, ours.
    """
    toe = limb.deciding_toe
    if toe is None:
        return False
    column = limb.column(toe)
    if int(column.code[0]) == NO_SIGNAL:
        return True
    if int(column.code[0]) != PRESSURE:
        return False
    cold = int(column.eighths[0])
    both = np.array([cold, cold + limb.criteria.thresholds["toe_cold_effect_mmhg"].limit * EIGHTHS])
    bands = pressure_band(both, limb.criteria.pressure_bands["toe_pressure"])
    if bands[0] != bands[1]:
        return True
    arm = int(limb.all_results.arms.denominator[0])
    if not arm:
        return False
    indices = index_band(
        index_hundredths(both, np.array([arm, arm])), limb.criteria.index_bands["toe_brachial_index"]
    )
    return bool(indices[0] != indices[1])
