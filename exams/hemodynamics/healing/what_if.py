"""Layer (d): what would change the answer, found by asking the core again with other readings.

A change is told where it is nearest: what a warm repeat, a missing test or another reading would do to the
sentence, the stage or the urgency of the referral.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal
from itertools import groupby

from exams.hemodynamics.columns import NO_SIGNAL, PRESSURE
from exams.hemodynamics.exact import mmhg
from exams.hemodynamics.healing.answered import ChangeOf, WouldChange
from exams.hemodynamics.healing.evidence import ankle_value, toe_value
from exams.hemodynamics.healing.flow import KIND_WORDS, Flow
from exams.hemodynamics.healing.judge import Case, Judged
from exams.hemodynamics.healing.sweep import Run, runs_of_ankle, runs_of_oxygen, runs_of_toe
from exams.hemodynamics.words import sentence

UrgencyOf = Callable[[Judged], str]


def would_change(now: Judged, case: Case, urgency_words: UrgencyOf) -> tuple[WouldChange, ...]:
    """Every nearest change of sentence, stage and urgency: warming first, then tests, then readings.

    Parameters
    ----------
    urgency_words : callable
        From a judged flow to how soon a referral would go, in words.
    """
    tell: dict[ChangeOf, Callable[[Judged], str]] = {
        ChangeOf.SENTENCE: lambda one: one.word.words,
        ChangeOf.STAGE: stage_words,
        ChangeOf.URGENCY: urgency_words,
    }
    toe = runs_of_toe(now.flow, case)
    found = _by_warming(now, case, toe, tell)
    values: list[tuple[str, Decimal | None, list[Run]]] = [("toe", _fresh_toe(now.flow), toe)]
    oxygen = now.flow.oxygen_mmhg if now.flow.oxygen and now.flow.oxygen.fresh else None
    if oxygen is not None or values[0][1] is None:
        values.append(("oxygen", oxygen, runs_of_oxygen(now.flow, case)))
    if (ankle := ankle_value(now.flow)) is not None:
        values.append(("ankle", ankle, runs_of_ankle(now.flow, case)))
    for kind, value, runs in values:
        for change, words in tell.items():
            found += _of_measure(kind, value, runs, change, words, words(now))
    if now.urgent and not any(one.change is ChangeOf.SENTENCE for one in found):
        found.append(_several(now))
    order = {"warming": 0, "test": 1, "reading": 2}
    return tuple(sorted(found, key=lambda one: order[one.by]))


def stage_words(judged: Judged) -> str:
    """ "WIfI stage 3", "WIfI stage 2 to 4"."""
    possible = judged.stage.possible
    if judged.stage.by_clinician is not None:
        return f"stage {judged.stage.by_clinician} by a clinician"
    if len(possible) == 1:
        return f"WIfI stage {possible[0]}"
    return f"WIfI stage {possible[0]} to {possible[-1]}"


def _fresh_toe(flow: Flow) -> Decimal | None:
    """The toe pressure to start from; a toe without a signal lies below every pressure."""
    if flow.toe is None or not flow.toe.fresh:
        return None
    return Decimal(0) if flow.toe.row.toe_state == NO_SIGNAL else toe_value(flow)


def _of_measure(
    kind: str,
    value: Decimal | None,
    runs: list[Run],
    change: ChangeOf,
    words: Callable[[Judged], str],
    now: str,
) -> list[WouldChange]:
    told = _joined((run, words(run.judged)) for run in runs)
    if all(then == now for _, _, then in told):
        return []
    if value is None:
        return [_by_test(kind, told, change, now)]
    above = next((run for run in told if run[0] > value and run[2] != now), None)
    below = next((run for run in reversed(told) if run[1] < value and run[2] != now), None)
    found = []
    if above is not None:
        found.append(_by_reading(kind, above, above[0], change, now, open_end=above is told[-1]))
    if below is not None:
        found.append(_by_reading(kind, below, below[1], change, now, open_end=below is told[0]))
    return found


def _joined(told: Iterable[tuple[Run, str]]) -> list[tuple[int, int, str]]:
    """Neighbouring runs with the same words as one: (low, high, words)."""
    found = []
    for words, group in groupby(told, key=lambda one: one[1]):
        runs = [run for run, _ in group]
        found.append((runs[0].low, runs[-1].high, words))
    return found


def _by_reading(
    kind: str, run: tuple[int, int, str], nearest: int, change: ChangeOf, now: str, *, open_end: bool
) -> WouldChange:
    low, high, then = run
    if nearest == low:
        reach = f"{low} mmHg or more" if open_end else f"{low} to {high} mmHg"
    else:
        reach = f"{high} mmHg or less" if open_end else f"{low} to {high} mmHg"
    said = f"{_one(kind)} of {reach} would {_reads(change, then)}"
    return WouldChange("reading", KIND_WORDS[kind], nearest, change, now, then, sentence(said))


def _by_test(kind: str, told: list[tuple[int, int, str]], change: ChangeOf, now: str) -> WouldChange:
    parts = []
    for place, (low, high, then) in enumerate(told):
        if place == 0:
            reach = f"{high} mmHg or less"
        else:
            reach = f"{low} mmHg or more" if place == len(told) - 1 else f"{low} to {high} mmHg"
        parts.append(f"{reach}: {then}")
    if len(told) == 1:
        parts = [f"whatever it reads: {told[0][2]}"]
    said = f"{_one(kind)} measured now would tell more ({'; '.join(parts)})"
    then = told[0][2] if len(told) == 1 else f"{told[0][2]} to {told[-1][2]}"
    return WouldChange("test", KIND_WORDS[kind], None, change, now, then, sentence(said))


def _by_warming(
    now: Judged, case: Case, runs: list[Run], tell: dict[ChangeOf, Callable[[Judged], str]]
) -> list[WouldChange]:
    toe = now.flow.toe
    if toe is None or not toe.cold or not toe.fresh or toe.row.toe_state not in (PRESSURE, NO_SIGNAL):
        return []
    effect = case.criteria.thresholds["toe_cold_effect_mmhg"].limit
    value = Decimal(0) if toe.row.toe_state == NO_SIGNAL else mmhg(toe.row.toe)
    found = []
    for change, words in tell.items():
        before = words(now)
        higher = (run for run in runs if value < run.low <= value + effect)
        then = next((run for run in higher if words(run.judged) != before), None)
        if toe.row.toe_state == NO_SIGNAL:
            then = next((run for run in runs if words(run.judged) != before), None)
        if then is not None:
            flat = toe.row.toe_state == NO_SIGNAL
            why = "gave no signal" if flat else f"a warm one reads about {effect} mmHg higher"
            told = _reads(change, words(then.judged))
            said = f"the toe was cold and {why}: warm, from {then.low} mmHg on, it would {told}"
            found.append(
                WouldChange(
                    "warming", KIND_WORDS["toe"], then.low, change, before, words(then.judged), sentence(said)
                )
            )
    return found


def _several(now: Judged) -> WouldChange:
    said = "No single reading would change the sentence: more than one rule asks for more blood flow."
    words = now.word.words
    return WouldChange("reading", "", None, ChangeOf.SENTENCE, words, words, said)


def _one(kind: str) -> str:
    return {"ankle": "an ankle pressure", "oxygen": "an oxygen pressure at the foot"}.get(
        kind, "a toe pressure"
    )


def _reads(change: ChangeOf, then: str) -> str:
    if change is ChangeOf.SENTENCE:
        return f"read “{then}”"
    if change is ChangeOf.STAGE:
        return f"make it {then}"
    return f"make the referral “{then}”"
