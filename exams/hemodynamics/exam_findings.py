"""The findings of the whole exam: the arms, and the conditions that change what a number means."""

from __future__ import annotations

from decimal import Decimal

from exams.hemodynamics.columns import PRESSURE
from exams.hemodynamics.exact import mmhg
from exams.hemodynamics.findings import Finding, Interval, NotStated
from exams.hemodynamics.limb import Limb, reason_of
from exams.hemodynamics.measured import Side, Site
from exams.hemodynamics.noise import Combined
from exams.hemodynamics.words import (
    ARM_RULE_WORDS,
    ONE_ARM,
    joined,
    listed,
    minutes_words,
    mmhg_words,
    site_words,
)

NO_REMARK = NotStated("a remark has no number")
POSITION_WORDS = {
    "supine": "lying flat",
    "head_raised": "head raised",
    "sitting": "sitting",
    "foot_raised": "foot raised",
}


def exam_findings(right: Limb, left: Limb) -> list[Finding]:
    """Arms first, then conditions, then what was planned and is missing."""
    findings = [_arm_pressure(limb) for limb in (right, left) if limb.measured.arm]
    findings += [_arm_used(right, left), _arm_difference(right, left)]
    findings += _conditions(right)
    missing = _missing(right, left)
    return [*findings, missing] if missing is not None else findings


def _arm_pressure(limb: Limb) -> Finding:
    arms = limb.all_results.arms
    dropped = bool((arms.dropped_right if limb.side is Side.RIGHT else arms.dropped_left)[0])
    item = limb.input(Site.ARM)
    limit = limb.criteria.thresholds["arm_repeat_apart_mmhg"]
    rule = limb.criteria.arm_repeat
    return Finding(
        measure="arm_pressure",
        limb=limb.side,
        value=NotStated(item.shown) if item.mmhg is None else item.mmhg,
        unit="mmHg",
        shown=item.shown,
        interval=NotStated("there is no pressure")
        if item.mmhg is None
        else limb.read.pressure_interval(Combined("higher", (limb.noise(Site.ARM),)), ()),
        band="",
        band_words="",
        flags=("FIRST_ARM_READING_DROPPED",) if dropped else (),
        sentence=joined(
            [f"{limb.word} arm: the first reading is left out, {_dropped_words(rule.rule, limit.limit)}"]
        )
        if dropped
        else "",
        rule=f"{limb.criteria.label}: {rule.rule.replace('_', ' ')}",
        source=rule.source,
        status=rule.status,
        inputs=(item,),
    )


def _dropped_words(rule: str, limit: int) -> str:
    if rule == "mean_unless_over_10":
        return f"the repeat differs by more than {limit} mmHg"
    return f"it lies more than {limit} mmHg above the other arm"


def _arm_used(right: Limb, left: Limb) -> Finding:
    """The one pressure both legs are divided by."""
    value = right.denominator
    combined = right.read.arm_combined
    flags = right.flags("arm_used")
    interval: Interval | NotStated = NotStated("there is no pressure")
    if combined is not None:
        interval = right.read.pressure_interval(combined, ())
    anything = any(limb.measured.arm or limb.ankle_sites or limb.toe_sites for limb in (right, left))
    sentence = ""
    if "NO_BRACHIAL" in flags and anything:
        sentence = "No arm pressure: no index can be made; ankle and toe pressures still count"
    elif "SINGLE_ARM" in flags:
        used, other = (right, left) if int(right.column(Site.ARM).code[0]) == PRESSURE else (left, right)
        reason = reason_of(other.measured.arm)
        why = f" ({other.word} arm not used: {reason})" if reason else ""
        sentence = f"{used.word} arm used; {ONE_ARM}{why}"
    return Finding(
        measure="arm_used",
        limb=None,
        value=NotStated("no arm pressure") if value is None else value,
        unit="mmHg",
        shown="not stated" if value is None else mmhg_words(value),
        interval=interval,
        band="",
        band_words="",
        flags=flags,
        sentence=joined([sentence]),
        rule=f"{right.criteria.label}: {ARM_RULE_WORDS[right.criteria.arm.rule]}",
        source=right.criteria.arm.source,
        status=right.criteria.arm.status,
        inputs=right.read.arm_inputs,
    )


def _arm_difference(right: Limb, left: Limb) -> Finding:
    eighths = int(right.all_results.arms.difference[0])
    value: Decimal | NotStated = NotStated("not assessed: needs both arms")
    if eighths >= 0:
        value = mmhg(eighths)
    flags = right.flags("arm_difference")
    words = {
        "IAD_10": "",
        "IAD_15": "; a difference of 15 or more goes with arterial disease",
        "IAD_20": "; if it stays, an artery to the lower arm may be narrowed: ask for it to be scanned",
    }
    sentence = f"Arms {value} mmHg apart: measure both again{words[flags[0]]}" if flags else ""
    limit = right.criteria.thresholds[
        f"arm_difference_{flags[0][4:]}_mmhg" if flags else "arm_difference_10_mmhg"
    ]
    return Finding(
        measure="arm_difference",
        limb=None,
        value=value,
        unit="mmHg",
        shown="not assessed" if isinstance(value, NotStated) else mmhg_words(value),
        interval=NotStated("not computed for a difference of the arms"),
        band="",
        band_words="",
        flags=flags,
        sentence=joined([sentence]),
        rule=f"{right.criteria.label}: arms {limit.words} mmHg apart",
        source=limit.source,
        status=limit.status,
        inputs=right.read.arm_inputs,
    )


def _conditions(limb: Limb) -> list[Finding]:
    found = [_rest(limb), _position(limb), _room(limb)]
    found += [_hours_since(limb, "tobacco", "TOBACCO"), _hours_since(limb, "caffeine", "CAFFEINE")]
    return [finding for finding in found if finding is not None]


def _rest(limb: Limb) -> Finding:
    minutes = limb.conditions.rest_minutes
    ask, short = limb.criteria.thresholds["rest_ask_minutes"], limb.criteria.thresholds["rest_short_minutes"]
    flags: list[str] = []
    sentence = ""
    if minutes is None:
        flags.append("REST_NOT_RECORDED")
        sentence = "Rest before measuring not recorded"
    elif short.met_by(minutes):
        flags.append("REST_UNDER_5")
        sentence = (
            f"Rest only {minutes_words(minutes)}, {short.words}: pressures may not have settled; rest, repeat"
        )
    elif ask.met_by(minutes):
        flags.append("REST_UNDER_10")
        sentence = f"Rest {minutes} minutes, {ask.words}: toe pressure may read a little low"
    if minutes is not None and limb.conditions.rest_typed:
        flags.append("REST_TYPED")
    shown = "not recorded" if minutes is None else minutes_words(minutes)
    return _remark(
        limb,
        "rest",
        NotStated("not recorded") if minutes is None else Decimal(minutes),
        "minutes",
        f"{shown} (as typed)" if "REST_TYPED" in flags else shown,
        tuple(flags),
        sentence,
        "rest_short_minutes" if "REST_UNDER_5" in flags else "rest_ask_minutes",
    )


def _position(limb: Limb) -> Finding | None:
    position = limb.conditions.position
    if position is None:
        return None
    words = POSITION_WORDS.get(str(position), str(position).replace("_", " "))
    flags: tuple[str, ...] = ()
    sentence = ""
    if limb.not_flat:
        height = limb.conditions.heart_to_site_cm
        flags = ("NOT_FLAT", "PROVISIONAL")
        if height is None:
            flags = (*flags, "HEIGHT_NOT_RECORDED")
            sentence = (
                f"Not lying flat ({words}): foot pressures are provisional; record how far the foot was "
                "above or below the heart"
            )
        elif limb.height is None:
            sentence = f"Not lying flat ({words}), foot level with the heart: foot pressures are provisional"
        else:
            flags = (*flags, "HEIGHT_CORRECTED")
            where = f"{abs(height)} cm {'above' if height > 0 else 'below'} the heart"
            sentence = (
                f"Not lying flat ({words}), foot {where}: foot pressures are provisional, shown as measured "
                "and at heart level; urgency uses the lower"
            )
    elif limb.conditions.heart_to_site_cm:
        sentence = "Lying flat: the height typed for the foot is kept but not used"
    return _remark(
        limb, "position", NotStated("a position has no number"), "", words, flags, sentence,
        "height_thousandths_mmhg_per_cm",
    )  # fmt: skip


def _room(limb: Limb) -> Finding | None:
    celsius = limb.conditions.room_celsius
    if celsius is None:
        return None
    limit = limb.criteria.thresholds["room_cold_celsius"]
    cold = bool(limit.met_by(float(celsius)))
    sentence = f"Room {celsius} °C, {limit.words}: warm the room" if cold else ""
    return _remark(
        limb, "room_temperature", celsius, "°C", f"{celsius} °C", ("ROOM_COLD",) if cold else (), sentence,
        "room_cold_celsius",
    )  # fmt: skip


def _hours_since(limb: Limb, what: str, flag: str) -> Finding | None:
    hours: Decimal | None = getattr(limb.conditions, f"{what}_hours")
    if hours is None:
        return None
    limit = limb.criteria.thresholds[f"{what}_hours"]
    recent = bool(limit.met_by(float(hours)))
    sentence = (
        f"{what.capitalize()} {hours} hours before, {limit.words} hours: pressures may be altered"
        if recent
        else ""
    )
    return _remark(
        limb, what, Decimal(hours), "hours", f"{hours} hours before", (flag,) if recent else (), sentence,
        f"{what}_hours",
    )  # fmt: skip


def _remark(
    limb: Limb,
    measure: str,
    value: Decimal | NotStated,
    unit: str,
    shown: str,
    flags: tuple[str, ...],
    sentence: str,
    threshold: str,
) -> Finding:
    limit = limb.criteria.thresholds[threshold]
    return Finding(
        measure=measure,
        limb=None,
        value=value,
        unit=unit,
        shown=shown,
        interval=NotStated("not computed for a condition"),
        band="",
        band_words="",
        flags=flags,
        sentence=joined([sentence]),
        rule=f"{limb.criteria.label}: {threshold.replace('_', ' ')} {limit.words}",
        source=limit.source,
        status=limit.status,
    )


def _missing(right: Limb, left: Limb) -> Finding | None:
    """Planned sites that were never tried, named once; None if there is none or nothing was begun."""
    limbs = (right, left)
    begun = any(limb.measured.arm or limb.ankle_sites or limb.toe_sites for limb in limbs)
    missing = [
        site_words(limb.side, site)
        for limb in limbs
        for site in Site
        if (limb.side, site) in limb.exam.planned and not limb.attempts(site)
    ]
    if not begun or not missing:
        return None
    return Finding(
        measure="not_measured",
        limb=None,
        value=NO_REMARK,
        unit="",
        shown=listed(missing),
        interval=NO_REMARK,
        band="",
        band_words="",
        flags=("NOT_MEASURED",),
        sentence=joined([f"Planned but not measured: {listed(missing)}"]),
        rule="what the exam type plans",
        source="OURS",
        status=right.criteria.thresholds["repeats_apart_mmhg"].status,
    )
