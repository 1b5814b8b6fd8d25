"""Numbers and codes in plain words: how a pressure reads, what a pattern means, what to do."""

from __future__ import annotations

from decimal import Decimal

from exams.hemodynamics.columns import NO_SIGNAL, NOT_OBTAINED, NOT_OCCLUDABLE, PRESSURE, SiteColumn
from exams.hemodynamics.exact import mmhg
from exams.hemodynamics.measured import Side, Site

STIFF_ANKLE = (
    "Ankle pressure not reliable here. A normal or high index does not rule out disease; use toe measurement."
)
ONE_ARM = "one arm only: the index may read high"
CANNOT_RULE_OUT = "arterial disease cannot be ruled out"

PATTERN_WORDS = {
    "PAD_CONCORDANT": "arterial disease; ankle and toe agree",
    "ABI_ONLY": "ankle reduced but toe not: check the ankle measurement; "
    "disease of the larger arteries with flow to the toe kept is possible",
    "SUSPECT_CALCIFICATION_OR_DISTAL": "toe reduced although the ankle is not: the ankle may read falsely "
    "high or the disease may lie below it; go by the toe",
    "BORDERLINE": "borderline; with symptoms on walking, an exercise test helps",
    "NORMAL": "no sign of arterial disease at rest",
    "CALCIFIED_PAD": "stiff ankle arteries; the toe shows arterial disease",
    "CALCIFIED_NO_TOE_DEFICIT": "stiff ankle arteries; the toe shows no lack of flow",
    "INCOMPLETE_NEEDS_TBI": f"no conclusion without a toe pressure: {CANNOT_RULE_OUT}",
    "INCOMPLETE_ADVISE_TBI": f"the ankle alone may mislead: {CANNOT_RULE_OUT}; measure the toe",
    "PAD_BY_ANKLE": "arterial disease by the ankle; there is no toe index",
    "NO_INDEX": "no arm pressure, so no index: only the single pressures can be read",
    "INCOMPLETE_ONE_ARTERY": "only one ankle artery was measured on a foot with a wound: measure the other "
    "before calling this foot normal",
    "NOT_ASSESSED": "a reading could not be read",
}

ARM_RULE_WORDS = {
    "higher": "higher arm",
    "mean": "mean of both arms",
    "mean_if_close_else_higher": "mean of both arms if close, else the higher",
    "one_arm": "one arm",
}
ANKLE_RULE_WORDS = {
    "higher": "higher ankle artery",
    "lower": "lower ankle artery",
    "mean": "mean of the ankle arteries",
    "posterior_tibial": "posterior tibial artery",
}
TECHNIQUE_WORDS = {
    "doppler": "Doppler",
    "two_cuffs": "light sensor, two cuffs",
    "one_cuff_hand": "light sensor, one cuff, pulp pressed empty by hand",
    "oscillometric": "oscillometric",
}


def technique_words(technique: str) -> str:
    return TECHNIQUE_WORDS.get(technique, technique.replace("_", " "))


def hundredths(value: int) -> Decimal:
    """91 as 0.91."""
    return Decimal(int(value)).scaleb(-2)


def mmhg_words(value: Decimal) -> str:
    return f"{value} mmHg"


def site_words(side: Side, site: Site) -> str:
    return f"{side.word} {site.words}"


def reading_shown(column: SiteColumn, reason: str | None) -> str:
    """How one site reads: a pressure, or why there is none."""
    code, eighths = int(column.code[0]), int(column.eighths[0])
    if code == PRESSURE:
        return mmhg_words(mmhg(eighths))
    if code == NOT_OCCLUDABLE:
        return f"cannot be occluded at {mmhg(eighths)} mmHg" if eighths else "cannot be occluded"
    if code == NO_SIGNAL:
        return "no signal"
    if code == NOT_OBTAINED:
        return f"not obtained: {reason}" if reason else "not obtained"
    return "not measured"


def joined(parts: list[str]) -> str:
    """Sentences put together, each starting with a capital and ending with a full stop; "" for none."""
    return " ".join(sentence(part) for part in parts if part)


def sentence(words: str) -> str:
    """Words as one sentence; "" stays empty."""
    if not words:
        return ""
    return f"{words[0].upper()}{words[1:]}{'' if words[-1] in '.!?' else '.'}"


def listed(items: list[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def minutes_words(minutes: int) -> str:
    """ "11 minutes", "1 minute", "less than a minute"."""
    if not minutes:
        return "less than a minute"
    return f"{minutes} minute{'' if minutes == 1 else 's'}"


def duration_words(seconds: int) -> str:
    """ "30 s", "2 min", "2 min 30 s"."""
    minutes, rest = divmod(seconds, 60)
    said = [f"{minutes} min" if minutes else "", f"{rest} s" if rest or not minutes else ""]
    return " ".join(filter(None, said))
