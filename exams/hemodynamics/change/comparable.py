"""May two exams be compared? Every reason against it, in plain words."""

from __future__ import annotations

from exams.hemodynamics.change.found import Found, Way, found_of
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Interpretation
from exams.hemodynamics.measured import SITE_WORDS, Side
from exams.hemodynamics.words import technique_words

# The indices are compared on their exact ratios; the toe pressure as it is.
MEASURE_WORDS = {
    "ankle_brachial_index": "ankle-brachial index",
    "toe_brachial_index": "toe-brachial index",
    "toe_pressure": "toe pressure",
}
# An ankle pressure is compared too, but no published noise says when it has changed.
COMPARED = (*MEASURE_WORDS, "ankle_pressure")
_SITES = {site.value: words for site, words in SITE_WORDS.items()}
STIFF = "the ankle could not be measured reliably at the {}: use the toe"


def comparability(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    *,
    breaks: tuple[str, ...] = (),
) -> tuple[str, ...]:
    """Why a measure of two exams may not be compared, in plain words; empty if it may.

    Parameters
    ----------
    breaks : tuple of str
        What happened to the limb in between, from ``breaks_between``.

    Raises
    ------
    InputError
        ``change.unknown_measure`` for a measure that is not followed over time.

    Notes
    -----
    Source: clinical reference 7: another technique, toe or arm, a non-compressible ankle, warm against cold,
    or an event of the limb in between.
    """
    if measure not in COMPARED:
        raise InputError("change.unknown_measure", "measure", measure, COMPARED)
    return reasons_between(found_of(earlier, limb, measure), found_of(later, limb, measure), breaks=breaks)


def reasons_between(
    before: Found | None, after: Found | None, *, breaks: tuple[str, ...] = ()
) -> tuple[str, ...]:
    """The same for what was found of one measure; None where an exam has no finding of it."""
    if before is None or after is None:
        return (*breaks, "not measured at both exams")
    stiff = before.stiff or after.stiff
    if before.value is not None and after.value is not None and not stiff and before.way == after.way:
        return breaks
    reasons = list(breaks)
    pairs = (("earlier exam", before), ("later exam", after))
    reasons += [STIFF.format(name) for name, found in pairs if found.stiff]
    reasons += [
        f"no value at the {name}: {found.reason}"
        for name, found in pairs
        if found.value is None and not found.stiff
    ]
    if before.way and after.way and before.value is not None and after.value is not None:
        reasons += _differences(before.way, after.way)
        reasons += _posture(before.way, after.way)
    return tuple(reasons)


def _differences(before: Way, after: Way) -> list[str]:
    reasons = []
    if before.site != after.site:
        was, now = (_SITES.get(way.site, way.site) for way in (before, after))
        reasons.append(f"measured at the {was} before and at the {now} now")
    if before.technique != after.technique:
        was, now = (" and ".join(map(technique_words, way.technique.split("+"))) for way in (before, after))
        reasons.append(f"another technique: {was} before, {now} now")
    if before.is_index:
        reasons += _arm_differences(before, after)
    if before.one_artery != after.one_artery:
        reasons.append("only one ankle artery was measured at one of the exams")
    if before.cold_toe != after.cold_toe:
        reasons.append("the toe was cold at one of the exams and not at the other")
    return reasons


def _arm_differences(before: Way, after: Way) -> list[str]:
    reasons = []
    if before.arms != after.arms:
        reasons.append(f"{_arm_words(before.arms)} before, {_arm_words(after.arms)} now")
    if before.divided_by is not None and after.divided_by is not None:
        (was, one), (now, other) = before.divided_by, after.divided_by
        if was != now:
            reasons.append(f"divided by the {was} before and by the {now} now")
        if one != other:
            reasons.append("another technique at the arm")
    return reasons


def _posture(before: Way, after: Way) -> list[str]:
    if (before.not_flat or after.not_flat) and before.position != after.position:
        return ["another position of the patient"]
    return []


def _arm_words(arms: tuple[str, ...]) -> str:
    if len(arms) == 2:
        return "both arms"
    return " and ".join(f"{Side(side).word} arm only" for side in arms) or "no arm"
