"""What cannot be so of a limb: dates outside a life, parts lost twice, and things that exclude each other."""

from collections.abc import Sequence

from django.core.exceptions import ValidationError

from exams.hemodynamics import (
    AmputationLevel,
    InfectionGrade,
    InputError,
    Site,
    Vessel,
    check_event,
    limb_standing,
    refusal_words,
)
from exams.hemodynamics import Side as CoreSide
from exams.patients import queries
from exams.patients.events import DONE_ONCE, OF_ONE_TOE, OF_THE_PERSON, FactKind
from exams.patients.models import LimbFact
from exams.patients.services.common import check, refuse_outside_life
from exams.patients.typed_date import written

_NO_END = "This was done once and has no end. Correct or withdraw the entry if it was wrong."
_BONE_IS_NOT_MILD = (
    "A mild infection is of the skin alone. Choose moderate or severe if the bone is infected, or clear this."
)
_NEEDS_A_FOOT = (FactKind.FOOT_INFECTION, FactKind.CHARCOT)
# Arteries that are gone with a leg at or above the knee; those of the foot go with the ankle already.
_OF_THE_CALF = (Vessel.ANTERIOR_TIBIAL, Vessel.POSTERIOR_TIBIAL, Vessel.PERONEAL)
_KNEE_AND_ABOVE = (AmputationLevel.THROUGH_KNEE, AmputationLevel.ABOVE_KNEE, AmputationLevel.HIP)


def refuse_impossible(fact: LimbFact) -> None:
    """Raise ValidationError, at its field, for what cannot be so."""
    _refuse_dates(fact)
    _refuse_half_said(fact)
    check(fact)
    others = _standing_beside(fact)
    _refuse_same_again(fact, others)
    _refuse_overlapping_losses(fact, others)
    for other in others:
        if words := _excluded_by(fact, other):
            raise ValidationError({"kind": f"{words} Check the side, the level and both dates."})
        if words := _excluded_by(other, fact):
            raise ValidationError({"started_on": f"{words} Check the side, the level and both dates."})


def _refuse_dates(fact: LimbFact) -> None:
    patient, today = fact.patient, queries.today_in(fact.patient.clinic)
    refuse_outside_life("started_on", fact.started_on, fact.dated.latest, patient, today)
    if fact.ended_on is None:
        return
    if fact.kind in DONE_ONCE:
        raise ValidationError({"ended_on": _NO_END})
    refuse_outside_life("ended_on", fact.ended_on, fact.ended_on, patient, today)
    if fact.ended_on < fact.started_on:
        raise ValidationError(
            {"ended_on": f"It started on {written(fact.started_on)}, after this. Mend one of the two."}
        )


def _refuse_half_said(fact: LimbFact) -> None:
    """What must be said with a kind, and what belongs to another."""
    if fact.kind in OF_THE_PERSON and fact.side:
        raise ValidationError({"side": "This is of the whole person: choose whole person."})
    if fact.kind not in OF_THE_PERSON and not fact.side:
        raise ValidationError({"side": "This is of one limb: choose RIGHT or LEFT."})
    if fact.kind == FactKind.AMPUTATION and not fact.level:
        raise ValidationError({"level": "Say where it was amputated."})
    if fact.level in OF_ONE_TOE and fact.toe is None:
        raise ValidationError({"toe": "Say which toe."})
    if fact.level not in OF_ONE_TOE and fact.toe is not None:
        raise ValidationError({"toe": "A toe is named only where one is amputated or absent."})
    if fact.kind != FactKind.REVASCULARISATION:
        for name in ("vessels", "approach", "device"):
            if getattr(fact, name):
                raise ValidationError(
                    {name: "This belongs to a revascularisation. Clear it, or choose that."}
                )
    if fact.osteomyelitis and fact.kind != FactKind.FOOT_INFECTION:
        raise ValidationError(
            {"osteomyelitis": "This belongs to a foot infection. Clear it, or choose that."}
        )
    if fact.osteomyelitis and fact.grade == InfectionGrade.MILD:
        raise ValidationError({"osteomyelitis": _BONE_IS_NOT_MILD})
    if unknown := sorted(set(fact.vessels.split()) - set(Vessel)):
        raise ValidationError({"vessels": f"Not a vessel of the list: {', '.join(unknown)}."})


def _standing_beside(fact: LimbFact) -> list[LimbFact]:
    """What stands of the same limb, without this fact and the one it replaces."""
    beside = LimbFact.objects.filter(
        patient=fact.patient, side=fact.side, replaced_by=None, withdrawn_at=None
    ).order_by("started_on", "pk")
    return list(beside.exclude(pk__in=[number for number in (fact.pk, fact.replaces_id) if number]))


def _refuse_same_again(fact: LimbFact, others: Sequence[LimbFact]) -> None:
    """Several wounds may be open at once; the same entry twice, or one part lost twice, may not be."""
    names = ("kind", "level", "toe") if fact.kind == FactKind.AMPUTATION else (
        "kind", "started_on", "started_precision", "note", "approach", "vessels",
    )  # fmt: skip
    for one in others:
        if all(getattr(one, name) == getattr(fact, name) for name in names):
            raise ValidationError(
                {"kind": f"{fact.whose} {one.words} is recorded already. Correct that entry."}
            )


def _refuse_overlapping_losses(fact: LimbFact, others: Sequence[LimbFact]) -> None:
    event = fact.event
    if event is None:
        return
    try:
        check_event(event, [other for one in others if (other := one.event)])
    except InputError as error:
        raise ValidationError({"kind": refusal_words(error)}) from None


def _excluded_by(fact: LimbFact, loss: LimbFact) -> str:
    """Why a fact cannot have begun once ``loss`` had taken the part; nothing where it may have."""
    event = loss.event
    if event is None or event.level is None or fact.started_on < loss.dated.latest:
        return ""
    foot_gone = limb_standing([event], CoreSide(loss.side), loss.dated.latest).is_lost(Site.DORSALIS_PEDIS)
    was = f"the {loss.whose} {loss.words} was {loss.dated.words}"
    if fact.kind in _NEEDS_A_FOOT and foot_gone:
        return f"There was no foot for this ({fact.words}, {fact.dated.words}): {was}."
    gone = {Vessel.PEDAL} if foot_gone else set()
    if event.level in _KNEE_AND_ABOVE:
        gone |= set(_OF_THE_CALF)
    for vessel in fact.vessels.split():
        if vessel in gone:
            return f"Nothing was left to treat there ({Vessel(vessel).words}, {fact.dated.words}): {was}."
    return ""
