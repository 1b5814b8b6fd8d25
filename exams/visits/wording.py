"""The words of this room: how sites, sides, reasons and readings are written on screens and in print."""

from decimal import Decimal

from exams.hemodynamics import Position
from exams.visits.models import NotObtained, Outcome, Site, Technique

# The printed list: `-N` is the N-th. The order is part of the printed sheet, so a new reason goes last.
REASONS: tuple[NotObtained, ...] = tuple(NotObtained)

SITE_NAMES: dict[str, str] = {site.value: str(site.label) for site in Site}
SIDE_WORDS = {"right": "RIGHT", "left": "LEFT"}
REGION_SITES = {
    "arm": (Site.ARM,),
    "ankle": (Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.PERONEAL),
    "toes": (Site.TOE_1, Site.TOE_2, Site.TOE_3, Site.TOE_4, Site.TOE_5),
    "leg": tuple(site for site in Site if site != Site.ARM),
}
POSITIONS: dict[str, str] = {
    Position.SUPINE.value: "lying flat, heels supported",
    Position.HEAD_RAISED.value: "lying, head raised",
    Position.SITTING.value: "sitting",
    Position.FOOT_RAISED.value: "lying, foot raised",
    Position.OTHER.value: "other",
}
OTHER_REASON_MISSING = "Say what the other reason is."
# What an open slip reads where its value was corrected or repeated into something that is not urgent.
NOT_URGENT_NOW = "Nothing urgent: the value behind this slip was changed or repeated since."


def place_words(side: str, site: str, attempt: int = 1) -> str:
    """ "RIGHT hallux", "LEFT posterior tibial, again"."""
    again = {1: "", 2: ", again"}.get(attempt, f", attempt {attempt}")
    return f"{SIDE_WORDS[side]} {SITE_NAMES[site]}{again}"


def whole_mmhg(mmhg: Decimal) -> str:
    """Whole mmHg, half upwards, as pressures are shown everywhere."""
    return str(int((mmhg * 2 + 1) // 2))


def reading_shown(outcome: str, pressure_mmhg: Decimal | None, reason: str, reason_text: str) -> str:
    """How a reading is read out: "132 mmHg", "cannot be occluded at 250 mmHg", "no signal", …"""
    if outcome == Outcome.PRESSURE:
        return f"{plain(pressure_mmhg)} mmHg"
    if outcome == Outcome.NOT_OCCLUDABLE:
        at = f" at {plain(pressure_mmhg)} mmHg" if pressure_mmhg is not None else ""
        return f"cannot be occluded{at}"
    if outcome == Outcome.NO_SIGNAL:
        return "no signal"
    return f"not obtained: {reason_words(reason, reason_text)}"


def reason_words(reason: str, reason_text: str = "") -> str:
    """Why nothing was obtained, in words; the free text after it, or alone for "other"."""
    if reason == NotObtained.OTHER:
        return reason_text
    words = str(NotObtained(reason).label)
    return f"{words} ({reason_text})" if reason_text else words


def plain(mmhg: Decimal | None) -> str:
    """132 or 132.5, as typed: no needless zeros, never an exponent."""
    if mmhg is None:
        return ""
    whole = mmhg.to_integral_value()
    return f"{whole:f}" if whole == mmhg else f"{mmhg:.1f}"


def technique_words(technique: str) -> str:
    return str(Technique(technique).label) if technique else ""
