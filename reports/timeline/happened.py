"""What happened to each limb, from the facts on record: as it stands, or as it was known at a time."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from exams.hemodynamics import Side
from exams.patients.models import LimbFact, Patient
from exams.patients.models import Side as RecordedSide
from exams.patients.queries import fact_history
from reports.timeline.years import Event

Events = Mapping[Side, tuple[Event, ...]]


def events_of(patient: Patient, known_at: datetime | None = None) -> dict[Side, tuple[Event, ...]]:
    """What happened to each limb and stands, now or as known at a time; one query.

    What is of the whole person is under both limbs.
    """
    return events_from(*fact_history(patient), known_at)


def events_from(
    facts: Mapping[RecordedSide, tuple[LimbFact, ...]],
    of_the_person: Sequence[LimbFact],
    known_at: datetime | None = None,
) -> dict[Side, tuple[Event, ...]]:
    """The same, of facts that were read before."""
    return {
        side: tuple(
            _event(fact, known_at)
            for fact in (*facts[RecordedSide(side)], *of_the_person)
            if _stood(fact, known_at)
        )
        for side in Side
    }


def holding(facts: Sequence[LimbFact], today: date) -> tuple[LimbFact, ...]:
    """Those that stand and are so today."""
    return tuple(fact for fact in facts if fact.stands and fact.holds_on(today))


def _stood(fact: LimbFact, at: datetime | None) -> bool:
    """Whether a fact stands, or stood at a time: entered, and neither withdrawn nor replaced by then."""
    if at is None:
        return fact.stands
    newer = getattr(fact, "replaced_by", None)
    return (
        fact.entered_at <= at
        and (fact.withdrawn_at is None or fact.withdrawn_at > at)
        and (newer is None or newer.entered_at > at)
    )


def _event(fact: LimbFact, known_at: datetime | None) -> Event:
    once = not fact.has_end
    core, ended = fact.event, fact.ended_on
    # When an end was entered is not kept: it cannot have been known before it came.
    if ended and known_at and ended > known_at.date():
        ended = None
        core = replace(core, until=None) if core else None
    return Event(
        fact.kind,
        fact.words,
        fact.dated.earliest,
        fact.dated.latest if once else ended,
        fact.note,
        dated=fact.dated.words,
        once=once,
        core=core,
    )
