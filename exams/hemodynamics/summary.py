"""Many findings in few words: one sentence for a limb, a draft of a conclusion."""

from __future__ import annotations

import re

from exams.hemodynamics.findings import Finding, Interpretation, Interval, NotStated
from exams.hemodynamics.measured import Side
from exams.hemodynamics.words import STIFF_ANKLE, joined

# Exam-wide remarks that belong in a conclusion; the rest stay with the conditions.
CONCLUDED = ("arm_used", "arm_difference", "rest", "position", "not_measured")
CONCLUDED_OF_A_LIMB = ("ankle_pressure", "ankle_toe_gradient", "toe_pressure", "toe_skin_temperature")


def limb_sentence(interpretation: Interpretation, side: Side) -> str:
    """One sentence for one limb, for a page where both stand at a glance."""
    pattern = _measured_pattern(interpretation, side)
    if pattern is None:
        return f"{Side(side).word}: not measured."
    urgency = interpretation.of("urgency", side)
    lead = f"{urgency.shown}; " if urgency is not None else ""
    numbers = _numbers(interpretation, side, with_interval=False)
    close = f" ({numbers})" if numbers else ""
    return joined([f"{Side(side).word}: {lead}{pattern.shown}{close}"])


def conclusion_draft(interpretation: Interpretation) -> str:
    """Short sentences for a clinician to edit: RIGHT, then LEFT, then what limits them, a line each.

    A limb is named once, at the head of its line.

    Never says that disease is ruled out: a normal or high ankle index without a toe pressure cannot.
    """
    paragraphs = [_limb_paragraph(interpretation, side) for side in (Side.RIGHT, Side.LEFT)]
    remarks = [f.sentence for f in interpretation.on(None) if f.measure in CONCLUDED and f.sentence]
    return "\n".join(part for part in (*paragraphs, " ".join(remarks)) if part)


def _limb_paragraph(interpretation: Interpretation, side: Side) -> str:
    pattern = _measured_pattern(interpretation, side)
    if pattern is None:
        return f"{side.word}: not measured."
    urgency = interpretation.of("urgency", side)
    numbers = _numbers(interpretation, side, with_interval=True)
    index = interpretation.of("ankle_brachial_index", side)
    stiff = index is not None and index.band == "NON_COMPRESSIBLE"
    parts = [
        urgency.sentence if urgency is not None else "",
        pattern.sentence,
        f"{side.word} {numbers}" if numbers else "",
        f"{side.word}: {STIFF_ANKLE}" if stiff else "",
        *(_sentence(interpretation, measure, side) for measure in CONCLUDED_OF_A_LIMB),
    ]
    return named_once(joined(parts), side)


def named_once(words: str, side: Side) -> str:
    """What is said of one limb, its name at the head alone: not again before every sentence that follows."""
    return re.sub(rf"(?<=\. ){side.word}:? (\w)", _capital, words)


def without_name(words: str, side: Side) -> str:
    """The same as it reads after a sentence that named the limb."""
    return re.sub(rf"^{side.word}:? (\w)", _capital, named_once(words, side))


def _capital(found: re.Match[str]) -> str:
    return found[1].upper()


def _measured_pattern(interpretation: Interpretation, side: Side) -> Finding | None:
    """The pattern of a limb on which something was measured, else None."""
    pattern = interpretation.of("pattern", side)
    return None if pattern is None or pattern.shown == "not measured" else pattern


def _sentence(interpretation: Interpretation, measure: str, side: Side) -> str:
    finding = interpretation.of(measure, side)
    return "" if finding is None else finding.sentence


def _numbers(interpretation: Interpretation, side: Side, *, with_interval: bool) -> str:
    """ "ankle-brachial index 0.90, mildly reduced; toe pressure 98 mmHg"."""
    parts = []
    for measure, title in (
        ("ankle_brachial_index", "ankle-brachial index"),
        ("toe_brachial_index", "toe-brachial index"),
    ):
        finding = interpretation.of(measure, side)
        if finding is not None and finding.shown != "not stated":
            parts.append(
                f"{title} {finding.shown}{_interval(finding) if with_interval else ''}{_band(finding)}"
            )
    for measure, title in (("ankle_pressure", "ankle pressure"), ("toe_pressure", "toe pressure")):
        finding = interpretation.of(measure, side)
        if finding is None or isinstance(finding.value, NotStated):
            continue
        no_index = "NO_BRACHIAL" in interpretation.flags(None)
        if measure == "toe_pressure" or no_index:
            parts.append(f"{title} {finding.shown}")
    return "; ".join(parts)


def _interval(finding: Finding) -> str:
    return f" (95 % interval {finding.interval.shown})" if isinstance(finding.interval, Interval) else ""


def _band(finding: Finding) -> str:
    return "" if finding.band == "NOT_ASSESSED" else f", {finding.band_words}"
