"""Is a change real? May two exams be compared, by how much do they differ, and is that more than noise."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.criteria.model import Criteria, Threshold
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import Finding, Input, Interpretation, Interval, NotStated
from exams.hemodynamics.measured import SITE_WORDS, Side
from exams.hemodynamics.words import joined, technique_words

# The indices are compared on their exact ratios; the toe pressure as it is.
MEASURE_WORDS = {
    "ankle_brachial_index": "ankle-brachial index",
    "toe_brachial_index": "toe-brachial index",
    "toe_pressure": "toe pressure",
}
# An ankle pressure is compared too, but no published noise says when it has changed.
COMPARED = (*MEASURE_WORDS, "ankle_pressure")
ANKLE_MEASURES = ("ankle_brachial_index", "ankle_pressure")
AUTOMATED_TECHNIQUES = ("oscillometric", "automated")
STIFF = "the ankle could not be measured reliably at the {}: use the toe"


def comparability(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    *,
    revascularised_between: bool = False,
) -> tuple[str, ...]:
    """Why a measure of two exams may not be compared, in plain words; empty if it may.

    Raises
    ------
    InputError
        ``change.unknown_measure`` for a measure that is not followed over time.

    Notes
    -----
    Source: clinical reference 7: another technique, toe or arm, a non-compressible ankle, warm against cold,
    or a revascularisation in between.
    """
    if measure not in COMPARED:
        raise InputError("change.unknown_measure", "measure", measure, COMPARED)
    before, after = earlier.of(measure, limb), later.of(measure, limb)
    reasons = ["revascularisation in between: a new baseline"] if revascularised_between else []
    if before is None or after is None:
        return (*reasons, "not measured at both exams")
    pairs = (("earlier exam", before), ("later exam", after))
    ankles = (earlier, later) if measure in ANKLE_MEASURES else ()
    stiff = [name for (name, _), exam in zip(pairs, ankles, strict=False) if _stiff_ankle(exam, limb)]
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


def change(
    earlier: Interpretation,
    later: Interpretation,
    limb: Side,
    measure: str,
    criteria: Criteria,
    *,
    revascularised_between: bool = False,
) -> Finding:
    """Later minus earlier, with the band inside which an unchanged foot stays.

    Returns
    -------
    Finding
        Measure ``<measure>_change``; band BEYOND_NOISE, WITHIN_NOISE or NOT_COMPARABLE. The interval is the
        difference less and plus the smallest change beyond noise.

    Raises
    ------
    InputError
        ``change.unknown_measure``.

    Notes
    -----
    Source: clinical reference 7 (ROMANOS10, AUTO15, PAGES); exact ratios, shown to 2 decimals (1.4).
    """
    if measure not in MEASURE_WORDS:
        raise InputError("change.unknown_measure", "measure", measure, tuple(MEASURE_WORDS))
    reasons = comparability(earlier, later, limb, measure, revascularised_between=revascularised_between)
    before, after = earlier.of(measure, limb), later.of(measure, limb)
    title = f"{limb.word} {MEASURE_WORDS[measure]}"
    if reasons or before is None or after is None:
        limit = criteria.thresholds[_threshold_name(measure, automated=False)]
        why = "; ".join(reasons)
        return _finding(
            measure, limb, NotStated(why), "not comparable", NotStated(why), "NOT_COMPARABLE",
            f"{title}: not comparable with the earlier exam: {why}", criteria, limit, (),
        )  # fmt: skip
    automated = any(t in AUTOMATED_TECHNIQUES for t in _technique(after).split("+"))
    limit = criteria.thresholds[_threshold_name(measure, automated=automated)]
    places, scale = (0, 1) if measure == "toe_pressure" else (2, 100)
    difference = _exact(after) - _exact(before)
    beyond = bool(_meets(limit, abs(difference) * scale))
    noise = Decimal(limit.limit) / scale
    exact = Decimal(difference.numerator) / Decimal(difference.denominator)
    value = round_half_up(exact, places)
    if measure == "toe_pressure":
        # A pressure is whole or half mmHg and is shown as such.
        value = exact.normalize() if exact != exact.to_integral_value() else exact.quantize(Decimal(1))
    interval = Interval(value - noise, value + noise, round_half_up(noise / Decimal("1.96"), 3))
    direction = "up" if value > 0 else "down" if value < 0 else "unchanged"
    unit = " mmHg" if measure == "toe_pressure" else ""
    size = f" {abs(value)}{unit}" if value else ""
    verdict = (
        f"more than repeat measurements differ by ({noise}{unit})"
        if beyond
        else f"within what repeat measurements differ by ({noise}{unit})"
    )
    return _finding(
        measure, limb, value, f"{value:+}{unit}", interval, "BEYOND_NOISE" if beyond else "WITHIN_NOISE",
        f"{title} {_plain(before)} to {_plain(after)}: {direction}{size}, {verdict}", criteria, limit,
        (*before.inputs[:1], *after.inputs[:1]),
    )  # fmt: skip


def outcome_scale(
    change_hundredths: int | None,
    *,
    categories_up: int = 0,
    index_after_hundredths: int | None = None,
    symptom_free: bool = False,
    minor_amputation: bool = False,
    major_amputation: bool = False,
) -> int | NotStated:
    """The scale of clinical outcome from -3 (markedly worse) to +3 (markedly better).

    Parameters
    ----------
    change_hundredths : int or None
        Change of the ankle-brachial index; None where it cannot be measured, and the scale is then not valid.
    categories_up : int
        Clinical categories gained, negative for lost.
    index_after_hundredths : int, optional
    symptom_free : bool

    Notes
    -----
    Source: RUTH97 as reprinted (clinical reference 7, confirmed in a secondary source).
    """
    if major_amputation or categories_up <= -2:
        return -3
    if change_hundredths is None:
        return NotStated("the ankle-brachial index could not be measured; use a toe-based index")
    rose, fell = change_hundredths > 10, change_hundredths < -10
    if minor_amputation or (categories_up == -1 and fell):
        return -2
    if fell or categories_up == -1:
        return -1
    if symptom_free and index_after_hundredths is not None and index_after_hundredths > 90:
        return 3
    if rose and categories_up > 0:
        return 2
    return 1 if rose or categories_up > 0 else 0


def _stiff_ankle(exam: Interpretation, limb: Side) -> bool:
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
    if _technique(before) != _technique(after):
        was, now = (" and ".join(map(technique_words, _technique(f).split("+"))) for f in (before, after))
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
    old, new = _role(before, "denominator"), _role(after, "denominator")
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


def _role(finding: Finding, role: str) -> Input | None:
    return next((item for item in finding.inputs if item.role == role), None)


def _made_from(finding: Finding) -> Input:
    """The numerator of an index, the site of a pressure."""
    return _role(finding, "numerator") or finding.inputs[0]


def _site(finding: Finding) -> str:
    return _made_from(finding).site


def _site_words(finding: Finding) -> str:
    return {site.value: words for site, words in SITE_WORDS.items()}.get(_site(finding), _site(finding))


def _technique(finding: Finding) -> str:
    return _made_from(finding).technique


def _arms(finding: Finding) -> frozenset[Side | None]:
    return frozenset(item.side for item in finding.inputs if item.role == "arm" and item.mmhg is not None)


def _arm_words(arms: frozenset[Side | None]) -> str:
    if len(arms) == 2:
        return "both arms"
    return " and ".join(f"{side.word} arm only" for side in arms if side is not None) or "no arm"


def _exact(finding: Finding) -> Fraction:
    """The exact ratio of an index, the exact mmHg of a pressure."""
    top, bottom = _role(finding, "numerator"), _role(finding, "denominator")
    if top is not None and bottom is not None and top.mmhg is not None and bottom.mmhg is not None:
        return Fraction(top.mmhg) / Fraction(bottom.mmhg)
    if isinstance(finding.value, NotStated):
        raise InputError("change.no_value", finding.measure, finding.value.reason)
    return Fraction(finding.value)


def _meets(limit: Threshold, size: Fraction) -> bool:
    return size >= limit.limit if limit.operator == ">=" else size > limit.limit


def _threshold_name(measure: str, *, automated: bool) -> str:
    if measure == "ankle_brachial_index":
        return "change_ankle_brachial_index_hundredths"
    way = "automated" if automated else "manual"
    return f"change_{measure}_{way}_{'mmhg' if measure == 'toe_pressure' else 'hundredths'}"


def _plain(finding: Finding) -> str:
    return str(finding.value) if not isinstance(finding.value, NotStated) else finding.shown


def _finding(
    measure: str,
    limb: Side,
    value: Decimal | NotStated,
    shown: str,
    interval: Interval | NotStated,
    band: str,
    sentence: str,
    criteria: Criteria,
    limit: Threshold,
    inputs: tuple[Input, ...],
) -> Finding:
    words = {
        "BEYOND_NOISE": "more than noise",
        "WITHIN_NOISE": "within noise",
        "NOT_COMPARABLE": "not comparable",
    }
    return Finding(
        measure=f"{measure}_change",
        limb=limb,
        value=value,
        unit="mmHg" if measure == "toe_pressure" else "index",
        shown=shown,
        interval=interval,
        band=band,
        band_words=words[band],
        flags=(),
        sentence=joined([sentence]),
        rule=f"{criteria.label}: a change counts from {limit.words}",
        source=limit.source,
        status=limit.status,
        inputs=inputs,
    )
