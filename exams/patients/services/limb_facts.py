"""What changes a dated fact of a limb."""

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients.models import LimbFact, Patient
from exams.patients.services.common import check, reason_given, refuse_merged, tell_listeners, told
from exams.patients.services.possible import refuse_impossible
from exams.patients.typed_date import written

_NOTHING_DIFFERS = "Nothing differs from what is recorded, so there is nothing to correct."
# All that is said of a fact: what a correction says again, and what the trail keeps.
FACT_SAYS = (
    "side",
    "kind",
    "level",
    "toe",
    "approach",
    "vessels",
    "device",
    "grade",
    "osteomyelitis",
    "started_on",
    "started_precision",
    "ended_on",
    "note",
    "source",
)


@one_act()
def record_limb_fact(
    *,
    patient: Patient,
    side: str,
    kind: str,
    started_on: date,
    source: str,
    by: Person,
    started_precision: str = "day",
    level: str = "",
    toe: int | None = None,
    approach: str = "",
    vessels: str = "",
    device: str = "",
    grade: str = "",
    osteomyelitis: bool = False,
    note: str = "",
) -> LimbFact:
    """A fact of one limb, or of the whole person (``side`` empty), from ``started_on`` until it is ended.

    Parameters
    ----------
    started_precision : "day", "month" or "year"; of the last two, ``started_on`` is the first day.
    level, toe : of an amputation; a toe where one was taken off alone or with its ray.
    approach, vessels, device : of a revascularisation; vessels are codes with a space between them.
    grade, osteomyelitis : of a foot infection, the latter where it has reached the bone.
    """
    require(by, "record limb facts", patient)
    refuse_merged(patient)
    fact = LimbFact(
        patient=patient,
        side=side,
        kind=kind,
        level=level,
        toe=toe,
        approach=approach,
        vessels=vessels,
        device=device,
        grade=grade,
        osteomyelitis=osteomyelitis,
        started_on=started_on,
        started_precision=started_precision,
        note=note,
        source=source,
        entered_at=clock.now(),
        entered_by=by.user,
    )
    refuse_impossible(fact)
    fact.save()
    record(by, "limb fact recorded", fact, details=told(fact, FACT_SAYS))
    tell_listeners(patient, by)
    return fact


@one_act()
def correct_limb_fact(*, fact: LimbFact, reason: str, by: Person, **says: Any) -> LimbFact:
    """Put a new row in place of ``fact``; both stay in the record, with who and why.

    ``says`` is how it really was, any of ``FACT_SAYS``; what is left out stays as it was said.
    """
    require(by, "record limb facts", fact)
    unknown = set(says) - set(FACT_SAYS)
    if unknown:
        raise TypeError(f"{sorted(unknown)} cannot be said of a fact.")
    standing = _standing_fact(fact)
    replacement = LimbFact(
        patient=standing.patient,
        **{**told(standing, FACT_SAYS), **says},
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=standing,
        replaced_because=reason_given(reason),
    )
    if replacement.ended_on:
        replacement.ended_reason = standing.ended_reason or replacement.replaced_because
        replacement.ended_by = standing.ended_by or by.user
    was, shall_be = told(standing, FACT_SAYS), told(replacement, FACT_SAYS)
    if was == shall_be:
        raise ValidationError(_NOTHING_DIFFERS)
    refuse_impossible(replacement)
    replacement.save()
    changed = {name: [was[name], shall_be[name]] for name in FACT_SAYS if was[name] != shall_be[name]}
    record(
        by,
        "limb fact corrected",
        replacement,
        details={"replaces": standing.pk, "changed": changed, "because": replacement.replaced_because},
    )
    tell_listeners(standing.patient, by)
    return replacement


@one_act()
def end_limb_fact(*, fact: LimbFact, ended_on: date, reason: str, by: Person) -> LimbFact:
    """Say on which day a fact no longer held, and why: "healed", "pain settled"."""
    require(by, "record limb facts", fact)
    standing = _standing_fact(fact)
    if standing.ended_on:
        raise ValidationError({"ended_on": f"It ended on {written(standing.ended_on)} already. Correct it."})
    standing.ended_on, standing.ended_reason, standing.ended_by = ended_on, reason_given(reason), by.user
    refuse_impossible(standing)
    standing.save()
    record(by, "limb fact ended", standing, details={"ended_on": ended_on, "because": standing.ended_reason})
    tell_listeners(standing.patient, by)
    return standing


@one_act()
def withdraw_limb_fact(*, fact: LimbFact, reason: str, by: Person) -> LimbFact:
    """Say that a fact never was so (entered for the wrong person, say). It stays, struck through."""
    require(by, "record limb facts", fact)
    standing = _standing_fact(fact)
    standing.withdrawn_at, standing.withdrawn_by = clock.now(), by.user
    standing.withdrawn_because = reason_given(reason)
    check(standing)
    standing.save()
    record(by, "limb fact withdrawn", standing, details={"because": standing.withdrawn_because})
    tell_listeners(standing.patient, by)
    return standing


def _standing_fact(fact: LimbFact) -> LimbFact:
    standing = LimbFact.objects.select_for_update().get(pk=fact.pk)
    if standing.withdrawn_at or LimbFact.objects.filter(replaces=standing).exists():
        raise ValidationError(
            "Somebody corrected or withdrew this while your page was open. Open the facts again and look."
        )
    return standing
