"""The limb's fact "gangrene" follows what the newest assessments of its open wounds found: entered once."""

from access.people import Person
from exams.patients.events import FactKind
from exams.patients.services import record_limb_fact
from exams.wounds.codes import WOUND_NOTES, Gangrene
from exams.wounds.models import Episode
from exams.wounds.services.common import standing_facts
from exams.wounds.services.infection import end_fact, last_day, newest_of_open_wounds


def follow_gangrene(episode: Episode, side: str, by: Person) -> None:
    """Begin or end the gangrene of a foot by what its open wounds show; one that is covered says nothing.

    As with an infection, what somebody recorded on the limb's own page stays theirs to end, and while it
    stands nothing is added beside it.
    """
    newest = newest_of_open_wounds(episode, side)
    looked = [one for one in newest if one.gangrene != Gangrene.NOT_SEEN]
    if newest and not looked:
        return
    dead = [one.assessed_on for one in looked if one.gangrene != Gangrene.NONE]
    standing = [
        fact
        for fact in standing_facts(episode.patient)
        if fact.kind == FactKind.GANGRENE and fact.side == side and fact.ended_on is None
    ]
    if dead and not standing:
        record_limb_fact(
            patient=episode.patient,
            side=side,
            kind=FactKind.GANGRENE,
            started_on=min(dead),
            source=WOUND_NOTES,
            by=by,
        )
    ours = next((fact for fact in standing if fact.source == WOUND_NOTES), None)
    if not dead and ours is not None:
        on = max((one.assessed_on for one in looked), default=None) or last_day(episode, side)
        end_fact(ours, on, "no gangrene at the wounds of this foot", by)
