"""May two exams be compared? Every reason against it, in plain words."""

from __future__ import annotations

from exams.hemodynamics.errors import InputError
from exams.hemodynamics.findings import Finding, Input, Interpretation, NotStated
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
ANKLE_MEASURES = ("ankle_brachial_index", "ankle_pressure")
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
    before, after = earlier.of(measure, limb), later.of(measure, limb)
    reasons = list(breaks)
    if before is None or after is None:
        return (*reasons, "not measured at both exams")
    pairs = (("earlier exam", before), ("later exam", after))
    ankles = (earlier, later) if measure in ANKLE_MEASURES else ()
    stiff = [name for (name, _), exam in zip(pairs, ankles, strict=False) if stiff_ankle(exam, limb)]
    reasons += [STIFF.format(name) for name in stiff]
    reasons += [
        f"no value at the {name}: {finding.value.reason}"
        for name, finding in pairs
        if isinstance(finding.value, NotStated) and name not in stiff
    ]
    if not any(isinstance(finding.value, NotStated) for _, finding in pairs):
        reasons += _differences(before, after)
        reasons += _posture(earlier, later)
    return tuple(reasons)


def stiff_ankle(exam: Interpretation, limb: Side) -> bool:
    """Whether the ankle was too stiff to measure: its index says so for the pressure as well."""
    found = [finding for name in ANKLE_MEASURES if (finding := exam.of(name, limb)) is not None]
    return any(
        finding.band == "NON_COMPRESSIBLE" or {"MIXED", "LOWER_BOUND"} & set(finding.flags)
        for finding in found
    )


def _differences(before: Finding, after: Finding) -> list[str]:
    reasons = []
    if _site(before) != _site(after):
        reasons.append(f"measured at the {_site_words(before)} before and at the {_site_words(after)} now")
    if technique(before) != technique(after):
        was, now = (" and ".join(map(technique_words, technique(f).split("+"))) for f in (before, after))
        reasons.append(f"another technique: {was} before, {now} now")
    if before.unit == "index":
        reasons += _arm_differences(before, after)
    if ("ONE_ARTERY" in before.flags) != ("ONE_ARTERY" in after.flags):
        reasons.append("only one ankle artery was measured at one of the exams")
    if ("COLD_TOE" in before.flags) != ("COLD_TOE" in after.flags):
        reasons.append("the toe was cold at one of the exams and not at the other")
    return reasons


def _arm_differences(before: Finding, after: Finding) -> list[str]:
    reasons = []
    was, now = _arms(before), _arms(after)
    if was != now:
        reasons.append(f"{_arm_words(was)} before, {_arm_words(now)} now")
    old, new = input_of(before, "denominator"), input_of(after, "denominator")
    if old is not None and new is not None:
        if old.site != new.site:
            reasons.append(f"divided by the {old.site} before and by the {new.site} now")
        if old.technique != new.technique:
            reasons.append("another technique at the arm")
    return reasons


def _posture(earlier: Interpretation, later: Interpretation) -> list[str]:
    was, now = earlier.of("position"), later.of("position")
    not_flat = [f is not None and "NOT_FLAT" in f.flags for f in (was, now)]
    if any(not_flat) and (was is None or now is None or was.shown != now.shown):
        return ["another position of the patient"]
    return []


def input_of(finding: Finding, role: str) -> Input | None:
    return next((item for item in finding.inputs if item.role == role), None)


def made_from(finding: Finding) -> Input:
    """The numerator of an index, the site of a pressure."""
    return input_of(finding, "numerator") or finding.inputs[0]


def _site(finding: Finding) -> str:
    return made_from(finding).site


def _site_words(finding: Finding) -> str:
    return {site.value: words for site, words in SITE_WORDS.items()}.get(_site(finding), _site(finding))


def technique(finding: Finding) -> str:
    return made_from(finding).technique


def _arms(finding: Finding) -> frozenset[Side | None]:
    return frozenset(item.side for item in finding.inputs if item.role == "arm" and item.mmhg is not None)


def _arm_words(arms: frozenset[Side | None]) -> str:
    if len(arms) == 2:
        return "both arms"
    return " and ".join(f"{side.word} arm only" for side in arms if side is not None) or "no arm"
