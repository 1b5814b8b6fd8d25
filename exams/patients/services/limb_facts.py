"""What changes a dated fact of a limb."""

from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.patients import queries
from exams.patients.models import FactKind, LimbFact, Patient, Side
from exams.patients.services.common import check, reason_given, refuse_outside_life, tell_listeners, told
from exams.patients.typed_date import written

_NOTHING_DIFFERS = "Nothing differs from what is recorded, so there is nothing to correct."
_FACT_SAYS = ("side", "kind", "toe", "started_on", "ended_on", "note", "source")


@one_act()
def record_limb_fact(
    *,
    patient: Patient,
    side: str,
    kind: str,
    started_on: date,
    source: str,
    by: Person,
    toe: int | None = None,
    note: str = "",
) -> LimbFact:
    """A fact of one limb that holds from ``started_on`` until it is ended."""
    require(by, "record limb facts", patient)
    fact = LimbFact(
        patient=patient,
        side=side,
        kind=kind,
        toe=toe,
        started_on=started_on,
        note=note,
        source=source,
        entered_at=clock.now(),
        entered_by=by.user,
    )
    _refuse_impossible(fact)
    fact.save()
    record(by, "limb fact recorded", fact, details=told(fact, _FACT_SAYS))
    tell_listeners(patient, by)
    return fact


@one_act()
def correct_limb_fact(
    *,
    fact: LimbFact,
    reason: str,
    by: Person,
    side: str,
    kind: str,
    toe: int | None,
    started_on: date,
    ended_on: date | None,
    note: str,
    source: str,
) -> LimbFact:
    """Put a new row in place of ``fact``; both stay in the record, with who and why."""
    require(by, "record limb facts", fact)
    standing = _standing_fact(fact)
    replacement = LimbFact(
        patient=standing.patient,
        side=side,
        kind=kind,
        toe=toe,
        started_on=started_on,
        ended_on=ended_on,
        note=note,
        source=source,
        entered_at=clock.now(),
        entered_by=by.user,
        replaces=standing,
        replaced_because=reason_given(reason),
    )
    if ended_on:
        replacement.ended_reason = standing.ended_reason or replacement.replaced_because
        replacement.ended_by = standing.ended_by or by.user
    said, says = told(standing, _FACT_SAYS), told(replacement, _FACT_SAYS)
    if said == says:
        raise ValidationError(_NOTHING_DIFFERS)
    _refuse_impossible(replacement)
    replacement.save()
    changed = {name: [said[name], says[name]] for name in _FACT_SAYS if said[name] != says[name]}
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
    _refuse_impossible(standing)
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


def _refuse_impossible(fact: LimbFact) -> None:
    today = queries.today_in(fact.patient.clinic)
    refuse_outside_life("started_on", fact.started_on, fact.patient, today)
    refuse_outside_life("ended_on", fact.ended_on, fact.patient, today)
    if fact.ended_on and fact.ended_on < fact.started_on:
        raise ValidationError(
            {"ended_on": f"It started on {written(fact.started_on)}, after this. Mend one of the two."}
        )
    if fact.kind == FactKind.TOE_ABSENT and fact.toe is None:
        raise ValidationError({"toe": "Say which toe."})
    if fact.kind != FactKind.TOE_ABSENT and fact.toe is not None:
        raise ValidationError({"toe": "A toe is named only where one is amputated or absent."})
    if fact.kind == FactKind.TOE_ABSENT and fact.ended_on:
        raise ValidationError(
            {"ended_on": "An absent toe has no end. Correct or withdraw the entry if it was wrong."}
        )
    check(fact)
    _refuse_overlap(fact)


def _refuse_overlap(fact: LimbFact) -> None:
    """Several wounds may be open at once; the same entry twice, or one toe lost twice, may not be."""
    same = LimbFact.objects.filter(
        patient=fact.patient,
        side=fact.side,
        kind=fact.kind,
        toe=fact.toe,
        replaced_by=None,
        withdrawn_at=None,
    ).exclude(pk__in=[number for number in (fact.pk, fact.replaces_id) if number])
    if fact.kind != FactKind.TOE_ABSENT:
        same = same.filter(started_on=fact.started_on, note=fact.note)
    if same.exists():
        side = Side(fact.side).label
        raise ValidationError({"kind": f"{side} {fact.words} is recorded already. Correct that entry."})
