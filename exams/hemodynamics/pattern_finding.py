"""What ankle and toe say together, in words that fit what was and was not measured."""

from __future__ import annotations

from exams.hemodynamics.ankle import NO_FLOW, STIFF
from exams.hemodynamics.bands import PATTERNS, TOE_LOW
from exams.hemodynamics.columns import NOT_OBTAINED
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.limb import Limb
from exams.hemodynamics.words import CANNOT_RULE_OUT, PATTERN_WORDS, joined, listed

NOTHING_OBTAINED = "no pressure of the foot could be obtained"


def pattern_finding(limb: Limb) -> Finding:
    """The pattern of one limb."""
    code = PATTERNS[int(limb.result.pattern[0])]
    words = _words(limb, code)
    tried = bool(limb.ankle_sites or limb.toe_sites)
    nothing = words == NOTHING_OBTAINED
    no_number = NotStated("a pattern has no number")
    return Finding(
        measure="pattern",
        limb=limb.side,
        value=no_number,
        unit="",
        shown=words if tried else "not measured",
        interval=no_number,
        band=code,
        band_words=words if tried else "not measured",
        flags=(),
        # Without an arm the finding of the arms says so; here it would be said a second time.
        sentence=joined([f"{limb.word}: {words}"])
        if tried and (nothing or limb.denominator is not None)
        else "",
        rule=f"{limb.criteria.label}: ankle and toe read together",
        source="OURS",
        status=limb.criteria.thresholds["repeats_apart_mmhg"].status,
    )


def _words(limb: Limb, code: str) -> str:
    toe_known = int(limb.result.indices["toe_brachial_index"].hundredths[0]) >= 0
    if code == "NORMAL":
        return f"{PATTERN_WORDS[code]} in {'ankle and toe' if toe_known else 'the ankle'}"
    if limb.has("ABSENT_SIGNAL_DP") and limb.has("ABSENT_SIGNAL_PT"):
        ankle = (
            "no flow found at the ankle"
            if int(limb.result.ankle.state[0]) == NO_FLOW
            else "flow found at the ankle only in the peroneal artery"
        )
        toe = "; none found in the toe" if limb.has("TOE_BELOW_DETECTION") else "; the toe is reduced too"
        return ankle + (toe if code == "PAD_CONCORDANT" else "")
    if limb.has("LOWER_BOUND") and limb.denominator is not None:
        return _cuff_stopped_too_low(code)
    if code == "INCOMPLETE_ADVISE_TBI":
        return (
            f"the ankle alone may mislead with {listed(_reasons(limb))}: {CANNOT_RULE_OUT}; measure the toe"
        )
    sites = (*limb.ankle_sites, *limb.toe_sites)
    if code == "NO_INDEX" and all(int(limb.column(site).code[0]) == NOT_OBTAINED for site in sites):
        return NOTHING_OBTAINED
    if code == "NO_INDEX":
        return _without_ankle_index(limb, toe_known=toe_known)
    return PATTERN_WORDS[code]


def _cuff_stopped_too_low(code: str) -> str:
    """Flow went on when the cuff stopped, but too low to call the arteries stiff."""
    toe = {
        "CALCIFIED_PAD": "the toe shows arterial disease",
        "CALCIFIED_NO_TOE_DEFICIT": "the toe is not reduced",
    }.get(code, f"no conclusion without a toe pressure: {CANNOT_RULE_OUT}")
    return f"ankle pressure not reached, the cuff stopped too low; {toe}"


def _reasons(limb: Limb) -> list[str]:
    """Why an ankle index alone may mislead on this foot."""
    reasons = []
    for name, answer in (
        ("diabetes", limb.context.diabetes),
        ("kidney disease", limb.context.kidney_disease),
    ):
        if answer != "no":
            reasons.append(name if answer == "yes" else f"{name} not known")
    return [*reasons, *limb.facts.words[:1]] if limb.facts.tissue_lost else reasons


def _without_ankle_index(limb: Limb, *, toe_known: bool) -> str:
    if limb.denominator is None:
        return PATTERN_WORDS["NO_INDEX"]
    stiff = int(limb.result.ankle.state[0]) == STIFF
    ankle = "the ankle gave no index" if limb.ankle_sites or stiff else "the ankle was not measured"
    if int(limb.result.toe_class[0]) == TOE_LOW:
        return f"arterial disease by the toe; {ankle}"
    if toe_known:
        return f"no sign of arterial disease in the toe at rest; {ankle}"
    return f"{ankle} and there is no toe index: only the single pressures can be read"
