"""Who must be told, and how soon: at most one finding a limb, naming every fact once."""

from __future__ import annotations

from exams.hemodynamics.ankle import MEASURED, MIXED
from exams.hemodynamics.columns import NO_SIGNAL, PRESSURE
from exams.hemodynamics.exact import TEN_THOUSANDTHS_IN_AN_EIGHTH, index_hundredths
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.limb import Limb, corrected_words
from exams.hemodynamics.words import hundredths, joined, listed

URGENCY_BANDS = {
    "POSSIBLE_ACUTE_ISCHAEMIA": "emergency: possible acute ischaemia",
    "INFECTION_WITH_ARTERIAL_DISEASE": "emergency: foot infection with arterial disease",
    "URGENT_VASCULAR": "urgent",
    "SEVERE_ISCHAEMIA": "severe ischaemia",
}
ACTIONS = {
    "POSSIBLE_ACUTE_ISCHAEMIA": "Call the vascular team now",
    "INFECTION_WITH_ARTERIAL_DISEASE": "Call the vascular and foot teams now",
    "URGENT_VASCULAR": "Tell the vascular team now",
    "SEVERE_ISCHAEMIA": "Tell the vascular team within one working day",
}


def urgency_finding(limb: Limb) -> Finding | None:
    """The urgency of one limb; None where nobody need be told.

    Source: clinical reference 4.1; the limits are those of the criteria's urgency rule.
    """
    flags = limb.flags("urgency")
    if not flags:
        return None
    band = flags[0]
    return Finding(
        measure="urgency",
        limb=limb.side,
        value=NotStated("an urgency has no number"),
        unit="",
        shown=URGENCY_BANDS[band],
        interval=NotStated("an urgency has no number"),
        band=band,
        band_words=URGENCY_BANDS[band],
        flags=flags,
        sentence=_sentence(limb, band, flags),
        rule=f"{limb.criteria.label}: urgency rule {limb.criteria.urgency.rule}",
        source=limb.criteria.urgency.source,
        status=limb.criteria.urgency.status,
        inputs=tuple(limb.input(site) for site in (*limb.ankle_sites, *limb.toe_sites)),
    )


def _sentence(limb: Limb, band: str, flags: tuple[str, ...]) -> str:
    facts = _facts(limb)
    at_stake = list(limb.facts.words)
    known = f" with {listed(at_stake)}" if at_stake else ""
    told = listed(facts) if facts else "signs of arterial disease"
    if band == "POSSIBLE_ACUTE_ISCHAEMIA":
        opening = (
            f"{limb.word}: EMERGENCY, possible acute ischaemia: {told}{known}, where flow was found before"
        )
    elif band == "INFECTION_WITH_ARTERIAL_DISEASE":
        opening = f"{limb.word}: EMERGENCY, {told}{known}"
    elif band == "URGENT_VASCULAR":
        opening = f"{limb.word}: URGENT, {told}{known}"
    else:
        opening = f"{limb.word}: severe ischaemia, {told}"
    parts = [opening, ACTIONS[band]]
    if limb.cold and int(limb.result.toe.site.code[0]) == NO_SIGNAL:
        parts.append("The toe is cold; do not wait for a warm repeat")
    return joined(parts)


def _facts(limb: Limb) -> list[str]:
    """The values that made it urgent, each with the limit it passed."""
    limits = limb.criteria.thresholds
    lowering = limb.read.lowering
    ankle = limb.result.ankle
    facts = []
    if limb.has("ABSENT_SIGNAL_DP") and limb.has("ABSENT_SIGNAL_PT"):
        facts.append("no signal at either ankle artery")
    elif limb.has("ABSENT_SIGNAL_DP") or limb.has("ABSENT_SIGNAL_PT"):
        artery = "dorsalis pedis" if limb.has("ABSENT_SIGNAL_DP") else "posterior tibial"
        facts.append(f"no signal at the {artery} artery")
    for site in limb.toe_sites:
        column = limb.column(site)
        if int(column.code[0]) == NO_SIGNAL:
            facts.append(f"no signal at the {site.words} (below detection)")
        elif int(column.code[0]) == PRESSURE:
            eighths = int(column.eighths[0])
            if limb.meets("urgent_toe_mmhg", eighths):
                words = "toe pressure" if len(limb.toe_sites) == 1 else f"{site.words} pressure"
                facts.append(
                    f"{words} {corrected_words(eighths, limb.height)} ({limits['urgent_toe_mmhg'].words})"
                )
    if int(ankle.state[0]) in (MEASURED, MIXED):
        eighths = int(ankle.highest[0])
        if limb.meets("urgent_ankle_mmhg", eighths):
            below = limits["urgent_ankle_mmhg"].words
            facts.append(f"ankle pressure {corrected_words(eighths, limb.height)} ({below})")
        arm = int(limb.all_results.arms.denominator[0])
        if "urgent_abi_hundredths" in limits and arm:
            numerator = max(int(ankle.numerator[0]) * TEN_THOUSANDTHS_IN_AN_EIGHTH - lowering, 1)
            found = index_hundredths(numerator, arm * TEN_THOUSANDTHS_IN_AN_EIGHTH)
            if limits["urgent_abi_hundredths"].met_by(float(found)):
                limit = hundredths(limits["urgent_abi_hundredths"].limit)
                level = " at heart level" if lowering else ""
                facts.append(f"ankle-brachial index {hundredths(found)}{level} (below {limit})")
    return facts
