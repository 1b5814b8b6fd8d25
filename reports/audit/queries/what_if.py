"""Draft criteria: which limits may be moved, what the last exams would read, and where a draft stands."""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from access.people import Person
from access.permissions import NotHere, allowed, require
from exams.hemodynamics import Criteria, Finding, Interpretation, interpret, load_criteria, read_criteria
from exams.patients.typed_date import written
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import Chart, charts_of, context_of, measured_exam
from exams.visits.queries.criteria import in_force
from reports.audit.disclosure import SmallNumbers
from reports.audit.draft_text import Edge, edges_of
from reports.audit.models import CriteriaDraft
from reports.audit.queries.figures import HIDDEN
from reports.audit.queries.rules import rules_now, sees_exact

LISTED = 100
MOST = 500
SHOWN = 20
# Told how far the reading again is, 0 to 1.
Tell = Callable[[float], None]


def edges(by: Person) -> list[Edge]:
    """Every limit of the criteria in force that may be moved."""
    return edges_of(in_force(by))


@dataclass
class Outcome:
    """What the last exams would read by the draft: findings that change band or flag, and of how many.

    ``limbs`` are feet of exams with any finding, and ``many`` those of them with a change.
    """

    exams: int = 0
    limbs: int = 0
    many: int = 0
    moves: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    changed: list[dict[str, Any]] = field(default_factory=list)

    def to_json(self) -> dict[str, Any]:
        moves = [[*move, many] for move, many in sorted(self.moves.items())]
        return {
            "exams": self.exams,
            "limbs": self.limbs,
            "many": self.many,
            "moves": moves,
            "changed": self.changed[:LISTED],
        }


def read_again(draft: CriteriaDraft, tell: Tell = lambda part: None) -> dict[str, Any]:
    """The clinic's last exams read by the core, by the criteria the draft rests on and by the draft.

    Both are read now and from the readings, so that nothing differs but the limit.
    """
    base, trial = load_criteria(draft.base_name, draft.base_version), read_criteria(draft.text)
    last = Exam.objects.filter(clinic=draft.clinic, state__in=DONE_STATES).order_by("-measured_at", "-pk")
    exams = list(last.select_related("clinic", "patient")[: draft.last])
    outcome = Outcome(exams=len(exams))
    for number, chart in enumerate(_charts(exams)):
        if number % 20 == 0:
            tell(number / len(exams))
        if chart.standing:
            _compare(outcome, chart, base, trial)
    outcome.changed.sort(key=lambda one: -one["exam"])
    return outcome.to_json()


def _charts(exams: Sequence[Exam]) -> Iterator[Chart]:
    for _, of_one in groupby(sorted(exams, key=lambda one: one.patient_id), lambda one: one.patient_id):
        yield from charts_of(list(of_one), people_once=True)


def _compare(outcome: Outcome, chart: Chart, base: Criteria, trial: Criteria) -> None:
    measured, context = measured_exam(chart), context_of(chart)
    now, then = (_read(interpret(measured, one, context)) for one in (base, trial))
    limbs = {limb for limb, _ in now.keys() | then.keys() if limb}
    touched = set()
    for limb, measure in sorted(now.keys() | then.keys()):
        before, after = _apart(now.get((limb, measure)), then.get((limb, measure)))
        if before == after:
            continue
        touched.add(limb)
        outcome.moves[_plain(measure), before, after] += 1
        found = then.get((limb, measure)) or now[limb, measure]
        outcome.changed.append(
            {
                "exam": chart.exam.pk,
                "day": written(chart.on),
                "limb": limb.upper() or "whole exam",
                "measure": _plain(measure),
                "shown": found.shown,
                "before": before,
                "after": after,
            }
        )
    outcome.limbs += len(limbs)
    outcome.many += len(touched)


def _read(found: Interpretation) -> dict[tuple[str, str], Finding]:
    return {(str(one.limb or ""), one.measure): one for one in found.findings}


def _apart(before: Finding | None, after: Finding | None) -> tuple[str, str]:
    """How a finding reads by the criteria and by the draft: its band, and flags only one of them raises."""
    flags = [set(one.flags) if one is not None else set() for one in (before, after)]
    own = (flags[0] - flags[1], flags[1] - flags[0])
    if own == (set(), set()) and _band(before) == _band(after):
        return "", ""
    said = [
        ", ".join(filter(None, (_band(one), *map(_plain, sorted(raised)))))
        for one, raised in zip((before, after), own, strict=True)
    ]
    return said[0] or "without it", said[1] or "without it"


def _band(finding: Finding | None) -> str:
    return "no finding" if finding is None else finding.band_words or _plain(finding.band)


def _plain(code: str) -> str:
    """A code in small letters and spaces, where it has no words of its own."""
    return code.replace("_", " ").lower()


@dataclass(frozen=True)
class DraftPage:
    """One draft as this person may see it: counts by the rules of small numbers unless they care for them."""

    draft: CriteriaDraft
    exact: bool
    mine: bool
    may_decide: bool
    rule: SmallNumbers

    @property
    def state(self) -> str:
        return state_of(self.draft)

    @property
    def lead(self) -> str:
        if self.draft.outcome is None:
            return "The last exams are being read by the draft."
        said = self.draft.outcome
        many, limbs = self._words(said["many"]), self._words(said["limbs"])
        return f"{many} of {limbs} limbs in the last {said['exams']} exams would read otherwise."

    @property
    def moves(self) -> list[tuple[str, str, str, str]]:
        said = self.draft.outcome or {"moves": []}
        return [(measure, *move, self._words(many)) for measure, *move, many in said["moves"]]

    @property
    def changed(self) -> list[dict[str, Any]]:
        return self.draft.outcome["changed"] if self.draft.outcome and self.exact else []

    def _words(self, number: int) -> str:
        if self.exact:
            return f"{number:,}"
        return HIDDEN if self.rule.is_small(number) else f"{self.rule.rounded(number):,}"


def state_of(draft: CriteriaDraft) -> str:
    """Where a draft stands, in words."""
    if draft.decided_at:
        return "approved" if draft.approved else "refused"
    if draft.outcome is None:
        return "being tried"
    return "waits for a second person" if draft.asked_at else "tried"


def drafts_of(by: Person) -> list[CriteriaDraft]:
    """The clinic's drafts, newest first."""
    require(by, "try criteria")
    found = CriteriaDraft.objects.filter(clinic=by.clinic).select_related("made_by", "decided_by", "job")
    return list(found.defer("text", "outcome")[:SHOWN])


def draft_for(by: Person, number: int) -> CriteriaDraft:
    require(by, "try criteria")
    found = CriteriaDraft.objects.filter(clinic=by.clinic, pk=number)
    draft = found.select_related("made_by", "decided_by", "job", "clinic").first()
    if draft is None:
        raise NotHere("no such draft in this clinic")
    return draft


def draft_page(by: Person, number: int) -> DraftPage:
    draft, rules = draft_for(by, number), rules_now()
    mine = draft.made_by == by.user
    return DraftPage(
        draft=draft,
        exact=sees_exact(by),
        mine=mine,
        may_decide=not mine and allowed(by, "decide on criteria"),
        rule=SmallNumbers(rules.threshold, rules.base),
    )
