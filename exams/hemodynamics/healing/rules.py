"""Layer (a): every urgency rule of the criteria, true, false or unknown, with its number and its source."""

from __future__ import annotations

from datetime import date

from exams.hemodynamics.criteria.model import Choice, Threshold
from exams.hemodynamics.healing.answered import UrgencyRule
from exams.hemodynamics.healing.flow import Taken
from exams.hemodynamics.healing.judge import Case, Judged
from exams.hemodynamics.words import hundredths, listed

NAMES = {
    "toe": "toe pressure",
    "ankle": "ankle pressure",
    "index": "ankle-brachial index",
    "oxygen": "transcutaneous oxygen",
    "waveform": "pedal waveform monophasic or absent",
    "no_signal": "no signal at the toe or at both ankle arteries",
    "acute": "no signal where flow was found before",
}
PRESSURE_RULES = {"toe": "urgent_toe_mmhg", "ankle": "urgent_ankle_mmhg", "index": "urgent_abi_hundredths"}
# The others say all there is in what is shown.
SAID_WITH_LIMIT = (*PRESSURE_RULES, "oxygen", "waveform", "acute")
OF_ANKLE = ("ankle", "index", "acute")
NOT_MEASURED = "not measured"


def urgency_rules(judged: Judged, case: Case) -> tuple[UrgencyRule, ...]:
    """Every rule that the criteria count, those that hold first."""
    found = [_rule(name, judged, case) for name in judged.holds]
    order = {"yes": 0, "unknown": 1, "no": 2}
    return tuple(sorted(found, key=lambda one: order[one.holds]))


def urgent_words(rules: tuple[UrgencyRule, ...]) -> str:
    """The rules that hold, each with its number and its day; "" where none does."""
    told = [
        f"{rule.shown} ({rule.limit})" if rule.name in SAID_WITH_LIMIT else rule.shown
        for rule in rules
        if rule.holds == "yes"
    ]
    return listed(told) if told else ""


def _rule(name: str, judged: Judged, case: Case) -> UrgencyRule:
    shown, on = _shown(name, judged)
    limit, source, status = _limit(name, case)
    return UrgencyRule(name, limit, judged.holds[name], shown, on, source, status)


def _limit(name: str, case: Case) -> tuple[str, str, str]:
    """The rule in words, with its source and how well that was confirmed."""
    threshold: Threshold | None = None
    if name in PRESSURE_RULES:
        threshold = case.criteria.thresholds[PRESSURE_RULES[name]]
    elif name == "oxygen":
        threshold = case.rules.limits["urgent_oxygen_mmhg"]
    if threshold is not None:
        words = threshold.words
        if name == "index":
            words = words.replace(str(threshold.limit), str(hundredths(threshold.limit)))
            return f"{NAMES[name]} {words}", threshold.source, threshold.status
        return f"{NAMES[name]} {words} mmHg", threshold.source, threshold.status
    choice: Choice = case.rules.waveform if name == "waveform" else case.criteria.urgency
    return NAMES[name], choice.source, choice.status


def _shown(name: str, judged: Judged) -> tuple[str, date | None]:
    """The reading a rule was held against, and its day."""
    flow = judged.flow
    if name == "no_signal":
        return _no_signal_shown(judged)
    taken = flow.ankle if name in OF_ANKLE else flow.of(name)
    if taken is None:
        return NOT_MEASURED, None
    return f"{_reading(name, taken)} on {_day(taken.on)}", taken.on


def _no_signal_shown(judged: Judged) -> tuple[str, date | None]:
    toe, ankle = judged.flow.toe, judged.flow.ankle
    if ankle is not None and ankle.row.urgent_by["no_ankle_signal"]:
        return f"no signal at either ankle artery on {_day(ankle.on)}", ankle.on
    if toe is not None and toe.row.urgent_by["no_toe_signal"]:
        return f"no signal at a toe on {_day(toe.on)}", toe.on
    last = max((one.on for one in (toe, ankle) if one is not None), default=None)
    return (NOT_MEASURED, None) if last is None else (f"a signal was found on {_day(last)}", last)


def _reading(name: str, taken: Taken) -> str:
    row = taken.row
    if name == "toe":
        return f"toe {row.toe_words}"
    if name == "index":
        return "no index" if row.index is None else f"index {hundredths(row.index)}"
    if name in ("ankle", "acute"):
        return f"ankle {row.ankle_words}"
    return "; ".join(finding.shown for finding in taken.findings)


def _day(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"
