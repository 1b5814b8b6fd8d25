"""Birth and death held against what is on record: facts of the limbs, and what rooms above know of."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from exams.patients.models import Patient
from exams.patients.typed_date import written

NAMED = 3


@dataclass(frozen=True)
class OnRecord:
    """Something that was done with, or found of, a living person: on one day from `first` to `last`."""

    first: date
    last: date
    words: str


# Rooms above this one that know of days on which a person lived. They enter themselves while Django starts.
WITNESSES: list[Callable[[Patient], Iterable[OnRecord]]] = []


def on_life_asked(tell: Callable[[Patient], Iterable[OnRecord]]) -> None:
    """Have ``tell(patient)`` called where a birth or death is recorded: what it names must lie between."""
    if tell not in WITNESSES:
        WITNESSES.append(tell)


def contradictions(patient: Patient, what_next: str) -> dict[str, str]:
    """By field, what is on record before the birth or after the death; ``what_next`` ends each sentence."""
    known = sorted((*_facts(patient), *(one for tell in WITNESSES for one in tell(patient))), key=_day)
    before = [one for one in known if one.last < patient.birth_date]
    after = [one for one in known if patient.died_on is not None and one.first > patient.died_on]
    said = {}
    if before:
        born = written(patient.birth_date)
        said["birth_date"] = f"On record before {born}: {_named(before)}. {what_next}"
    if after and patient.died_on is not None:
        said["died_on"] = f"On record after {written(patient.died_on)}: {_named(after)}. {what_next}"
    return said


def _day(one: OnRecord) -> date:
    return one.first


def _facts(patient: Patient) -> Iterable[OnRecord]:
    for fact in patient.limb_facts.filter(withdrawn_at=None, replaced_by=None):
        yield OnRecord(fact.started_on, fact.dated.latest, f"{fact.whose} {fact.words} {fact.when}")


def _named(known: list[OnRecord]) -> str:
    words = [one.words for one in known[:NAMED]]
    more = len(known) - len(words)
    return "; ".join([*words, f"and {more} more"] if more else words)
