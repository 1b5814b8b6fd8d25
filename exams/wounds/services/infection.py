"""The limb's fact "foot infection" follows what the newest assessments of its open wounds found."""

from datetime import date

from access.people import Person
from exams.hemodynamics import Grade as CoreGrade
from exams.hemodynamics import InfectionGrade
from exams.patients.events import FactKind
from exams.patients.models import LimbFact
from exams.patients.services import (
    correct_limb_fact,
    end_limb_fact,
    record_limb_fact,
    withdraw_limb_fact,
)
from exams.wounds.codes import WOUND_NOTES, InfectionLooked, Status, Yes
from exams.wounds.models import Assessment, Episode, Grade, WoundEntry
from exams.wounds.services.common import standing_facts

_GRADES = {2: InfectionGrade.MILD, 3: InfectionGrade.MODERATE, 4: InfectionGrade.SEVERE}
_INFECTED_FROM = 2


def follow_infection(episode: Episode, side: str, by: Person) -> None:
    """Begin, change or end the infection of a foot by the worst of its open wounds.

    Only facts this room wrote are ended: what somebody recorded on the limb's own page stays theirs to end,
    and while it stands nothing is added beside it.
    """
    newest = newest_of_open_wounds(episode, side)
    looked = [one for one in newest if one.infection_looked != InfectionLooked.NOT_LOOKED]
    grades = {
        row.assessment_id: CoreGrade.from_json(row.graded)
        for row in Grade.objects.filter(assessment__in=looked, measure="iwgdf_infection")
    }
    # Whether there is an infection can be known while its grade is not, for want of a temperature, say.
    known = [one for one in looked if _is_known(grades[one.pk])]
    worst = max(known, key=lambda one: (grades[one.pk].at_least, grades[one.pk].at_most), default=None)
    standing = [
        fact
        for fact in standing_facts(episode.patient)
        if fact.kind == FactKind.FOOT_INFECTION and fact.side == side and fact.ended_on is None
    ]
    ours = next((fact for fact in standing if fact.source == WOUND_NOTES), None)
    if newest and worst is None:
        return
    if worst is None or grades[worst.pk].at_least < _INFECTED_FROM:
        if ours is not None:
            on = worst.assessed_on if worst is not None else last_day(episode, side)
            end_fact(ours, on, "no infection at the wounds of this foot", by)
        return
    number = grades[worst.pk].number
    grade = _GRADES[number].value if number else ""
    bone = worst.bone_infection == Yes.YES and grade != InfectionGrade.MILD
    if ours is not None:
        if (ours.grade, ours.osteomyelitis) == (grade, bone):
            return
        if worst.assessed_on <= ours.started_on:
            why = "the wound was read again"
            correct_limb_fact(fact=ours, reason=why, grade=grade, osteomyelitis=bone, by=by)
            return
        end_limb_fact(
            fact=ours, ended_on=worst.assessed_on, reason=f"now {grade or 'of another grade'}", by=by
        )
    elif standing:
        return
    record_limb_fact(
        patient=episode.patient,
        side=side,
        kind=FactKind.FOOT_INFECTION,
        grade=grade,
        osteomyelitis=bone,
        started_on=worst.assessed_on,
        source=WOUND_NOTES,
        by=by,
    )


def _is_known(grade: CoreGrade) -> bool:
    return grade.at_least >= _INFECTED_FROM or grade.at_most < _INFECTED_FROM


def newest_of_open_wounds(episode: Episode, side: str) -> list[Assessment]:
    """The newest assessment of each open wound of a foot that was assessed."""
    found = Assessment.objects.filter(
        wound__episode__patient=episode.patient,
        wound__withdrawn_at=None,
        wound__entries__replaced_by=None,
        wound__entries__status=Status.OPEN,
        wound__entries__side=side,
        replaced_by=None,
        withdrawn_at=None,
    )
    newest = {one.wound_id: one for one in found.order_by("assessed_on", "pk")}
    return list(newest.values())


def last_day(episode: Episode, side: str) -> date | None:
    """The day the last wound of the foot closed; None where none ever did."""
    closed = WoundEntry.objects.filter(
        wound__episode__patient=episode.patient, replaced_by=None, side=side, closed_on__isnull=False
    ).order_by("-closed_on")
    entry = closed.first()
    return entry.closed_on if entry else None


def end_fact(fact: LimbFact, on: date | None, why: str, by: Person) -> None:
    """End it; where it would last no day, it never was."""
    if on is None or on <= fact.started_on:
        withdraw_limb_fact(fact=fact, reason=why, by=by)
    else:
        end_limb_fact(fact=fact, ended_on=on, reason=why, by=by)
