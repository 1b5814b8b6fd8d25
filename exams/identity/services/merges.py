"""Two records of one person made one: field by field as decided, every row moved and remembered."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.identity import queries
from exams.identity.kept import differences, kept_rows, pointing_to, rows_of_patients
from exams.identity.models import DifferentPeople, Merge
from exams.patients.models import LimbFact, Patient
from exams.patients.services.common import tell_listeners
from exams.patients.services.lived import contradictions
from exams.patients.services.records import check_record, refresh_compared
from exams.visits.models import Exam, ExamState

NO_REASON = "Say why: the reason is kept with both records."
_DECIDE = "The two records differ here. Choose which is right."
_MEND = "Choose the other one, or correct that record first."
_SURVIVOR, _MERGED = "survivor", "merged"


@one_act()
def merge_records(
    *,
    survivor: Patient,
    merged: Patient,
    keep: Mapping[str, str],
    because: str,
    seen: tuple[int, int],
    by: Person,
) -> Merge:
    """Make one record of two: ``survivor`` takes over everything of ``merged``, which stays and leads there.

    Parameters
    ----------
    keep : for every field in which the two differ, and every pair of losses that exclude each other
        (`queries.to_decide`), "survivor" or "merged": whose stands.
    seen : the revisions of both records that the person deciding was looking at.

    Raises
    ------
    ValidationError
        By field. Nothing is decided where a record was changed meanwhile, or what is kept cannot be so.
    """
    require(by, "correct identity", survivor)
    require(by, "correct identity", merged)
    if survivor.pk == merged.pk:
        raise ValidationError("These are one record already.")
    # By number: two merges of the same two records, one about the other, must not wait for each other.
    held = {
        one.pk: one
        for one in Patient.objects.select_for_update()
        .filter(pk__in=[survivor.pk, merged.pk], merged_into=None)
        .order_by("pk")
    }
    if len(held) < 2:
        raise ValidationError("One of these records was merged meanwhile. Nothing was changed.")
    survivor, merged = held[survivor.pk], held[merged.pk]
    if (survivor.revision, merged.revision) != seen:
        raise ValidationError(
            "Somebody changed one of the records while you were deciding. Nothing was merged: look at both "
            "again below; your reason is kept."
        )
    because = because.strip()
    undecided = {
        one.key: _DECIDE
        for one in queries.to_decide(survivor, merged)
        if keep.get(one.key) not in one.choices
    }
    if not because:
        undecided["because"] = NO_REASON
    if undecided:
        raise ValidationError(undecided)
    decided = queries.to_decide(survivor, merged)
    numbers, exams = [survivor.pk, merged.pk], _newest_exams(survivor, merged)
    before = rows_of_patients(numbers, exams)

    for one in decided:
        if one.facts:
            _withdraw(one.facts[keep[one.key] == _SURVIVOR], because, by)
        elif keep[one.key] == _MERGED:
            setattr(survivor, one.key, getattr(merged, one.key))
    for model, column in pointing_to(Patient):
        model._base_manager.filter(**{column: merged.pk}).update(**{column: survivor.pk})
    survivor.revision += 1
    merged.revision += 1
    merged.merged_into = survivor
    _refuse_outside_life(survivor)
    check_record(survivor)
    survivor.save()
    merged.save()
    refresh_compared(survivor)
    tell_listeners(survivor, by)

    after = rows_of_patients(numbers, exams)
    merge = Merge(
        clinic_id=survivor.clinic_id,
        survivor=survivor,
        merged=merged,
        decisions={
            one.key: {
                "label": one.label,
                "kept": keep[one.key],
                "survivor": one.survivor,
                "merged": one.merged,
            }
            for one in decided
        },
        changes=differences(before, after),
        stood=_standing_at(survivor),
        because=because,
        merged_at=clock.now(),
        merged_by=by.user,
    )
    merge.clean_fields(
        exclude=["clinic", "survivor", "merged", "merged_by", "decisions", "changes", "stood", "placed"]
    )
    merge.save()
    told = {
        "survivor": survivor.pk,
        "merged": merged.pk,
        "because": because,
        "decided": {key: one["kept"] for key, one in merge.decisions.items()},
        "moved": queries.moved_rows(merge),
    }
    record(by, "records merged", merge, patient=survivor, details=told)
    record(by, "record merged into another", merge, patient=merged, details=told)
    return merge


@one_act()
def say_different(*, one: Patient, other: Patient, because: str, by: Person) -> DifferentPeople:
    """Two records look alike and are of two people; the list offers them no more."""
    require(by, "correct identity", one)
    require(by, "correct identity", other)
    if not because.strip():
        raise ValidationError({"because": NO_REASON})
    first, second = sorted((one, other), key=lambda patient: patient.pk)
    said, _ = DifferentPeople.objects.get_or_create(
        one=first,
        other=second,
        defaults={
            "clinic_id": first.clinic_id,
            "because": because.strip()[:200],
            "said_at": clock.now(),
            "said_by": by.user,
        },
    )
    for patient, beside in ((first, second), (second, first)):
        details = {"different from": beside.pk, "because": said.because}
        record(by, "said to be different people", said, patient=patient, details=details)
    return said


def _newest_exams(*patients: Patient) -> list[int]:
    """The exam of each record that is read again when what it means changes."""
    inflated = Exam.objects.filter(first_inflation_at__isnull=False).exclude(state=ExamState.IN_ERROR)
    newest = (
        inflated.filter(patient=one)
        .order_by("-first_inflation_at", "-pk")
        .values_list("pk", flat=True)
        .first()
        for one in patients
    )
    return [pk for pk in newest if pk is not None]


def _standing_at(patient: Patient) -> list[list[str]]:
    rows: dict[tuple[str, str], Any] = {}
    for model, column in pointing_to(Patient):
        rows |= kept_rows(model._base_manager.filter(**{column: patient.pk}))
    return [list(key) for key in rows]


def _withdraw(fact: LimbFact, because: str, by: Person) -> None:
    LimbFact.objects.filter(pk=fact.pk).update(
        withdrawn_at=clock.now(),
        withdrawn_by=by.user,
        withdrawn_because=f"two records merged, the other entry stands: {because}"[:200],
    )


def _refuse_outside_life(survivor: Patient) -> None:
    """Refuse a birth or death, chosen from one record, that the other one's entries contradict."""
    said = contradictions(survivor, _MEND)
    if said:
        raise ValidationError(said)
