"""What the pressures say of compressing a leg: published cautions, never a yes. The local protocol decides.

Source: clinical reference 10: commonly withheld below the limits of the criteria (from memory, a secondary
page).
"""

from __future__ import annotations

from decimal import Decimal

from exams.hemodynamics.columns import NO_SIGNAL
from exams.hemodynamics.healing.answered import Compression
from exams.hemodynamics.healing.evidence import ankle_value, index_value, toe_value
from exams.hemodynamics.healing.flow import Flow
from exams.hemodynamics.healing.judge import Case, ischaemia_of
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.words import hundredths, joined, listed

LOCAL = "The local protocol and the person responsible decide"


def compression_line(flow: Flow, case: Case) -> Compression:
    """One line for one leg, from the newest valid pressures; too old ones only warn."""
    reasons = _cautions(flow, case)
    fresh = any(taken is not None and taken.fresh for taken in (flow.toe, flow.ankle))
    told = _told(flow, case)
    word = case.question.side.word
    caution: Answer
    if reasons:
        caution = "yes"
        said = (
            f"{word} leg: {listed(reasons)}: many protocols withhold sustained compression here; "
            "ask the vascular team first"
        )
    elif fresh and _may_reassure(flow, case):
        caution = "no"
        said = f"{word} leg: no published pressure caution is met ({listed(told)}); this is not a yes"
    else:
        caution = "unknown"
        known = f" ({listed(told)})" if told else ""
        said = f"{word} leg: the pressures cannot tell{known}; measure the toe pressure before compressing"
    limit = case.rules.limits["compression_ankle_mmhg"]
    return Compression(
        case.question.side, caution, joined([said, LOCAL]), tuple(reasons), limit.source, limit.status
    )


def _cautions(flow: Flow, case: Case) -> list[str]:
    limits, found = case.rules.limits, []
    index = index_value(flow)
    named: tuple[tuple[str, str, Decimal | None], ...] = (
        ("ankle pressure", "compression_ankle_mmhg", ankle_value(flow)),
        ("toe pressure", "compression_toe_mmhg", toe_value(flow)),
    )
    for name, key, value in named:
        if value is not None and limits[key].met_by(float(value)):
            found.append(f"{name} {value} mmHg is {limits[key].words}")
    limit = limits["compression_abi_hundredths"]
    if index is not None and limit.met_by(int(index * 100)):
        below = limit.words.replace(str(limit.limit), str(hundredths(limit.limit)))
        found.append(f"ankle-brachial index {index} is {below}")
    if flow.toe is not None and flow.toe.row.urgent_by["no_toe_signal"]:
        found.append("a toe gives no signal")
    if flow.ankle is not None and flow.ankle.row.urgent_by["no_ankle_signal"]:
        found.append("neither ankle artery gives a signal")
    return found


def _may_reassure(flow: Flow, case: Case) -> bool:
    """A toe pressure, or an ankle that WIfI would grade: one too stiff or in doubt does not reassure."""
    toe = flow.toe
    if toe is not None and toe.fresh and toe_value(flow) is not None:
        return True
    return _ankle_graded(flow, case)


def _ankle_graded(flow: Flow, case: Case) -> bool:
    methods = ischaemia_of(flow, case).by_method
    return any(one.method == "ankle" and isinstance(one.grade, int) for one in methods)


def _told(flow: Flow, case: Case) -> list[str]:
    """The pressures behind the line; an ankle that may not reassure says so."""
    found = []
    if flow.ankle is not None:
        aside = "" if _ankle_graded(flow, case) else " (does not reassure)"
        found.append(f"ankle {flow.ankle.row.ankle_words}{aside}")
    if flow.toe is not None and flow.toe.row.toe_state != NO_SIGNAL:
        found.append(f"toe {flow.toe.row.toe_words}")
    return found
