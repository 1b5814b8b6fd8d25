"""A merge undone: every row is put back as it was, and what came later goes where a person says."""

from collections.abc import Mapping
from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.identity import queries
from exams.identity.kept import Change, kept_rows, pointing_to, put_back, values
from exams.identity.models import Merge
from exams.identity.services.merges import NO_REASON
from exams.patients.models import Patient
from exams.patients.services.common import tell_listeners
from exams.patients.services.records import check_record, refresh_compared

_ASKED = "This was recorded after the merge. Say where it belongs."


@one_act()
def undo_merge(*, merge: Merge, places: Mapping[str, str], because: str, by: Person) -> Merge:
    """Part two records again.

    Parameters
    ----------
    places : for everything of `queries.recorded_since`, one of its choices.

    Raises
    ------
    ValidationError
        Where something recorded since has no place, or a later merge has to be undone first.
    """
    require(by, "correct identity", merge)
    list(
        Patient.objects.select_for_update().filter(pk__in=[merge.survivor_id, merge.merged_id]).order_by("pk")
    )
    merge = (
        Merge.objects.select_for_update(of=("self",)).select_related("survivor", "merged").get(pk=merge.pk)
    )
    if merge.undone_at is not None:
        raise ValidationError("This merge was undone meanwhile. Nothing was changed.")
    if queries.later_merge(merge) is not None:
        raise ValidationError("Another merge was made of this record later. Undo that one first.")
    because = because.strip()
    asked = queries.recorded_since(merge)
    missing = {one.key: _ASKED for one in asked if places.get(one.key) not in dict(one.choices)}
    if not because:
        missing["because"] = NO_REASON
    if missing:
        raise ValidationError(missing)

    tables = {model._meta.label_lower: column for model, column in pointing_to(Patient)}
    of_person = [change for change in merge.changes if change["table"] in (*tables, "patients.patient")]
    _put_back_exams([change for change in merge.changes if change not in of_person])
    corrections, led = queries.corrections_since(merge), queries.led_since(merge)
    for change in of_person:
        _put_back_where_unchanged(change)
    _follow(corrections, tables)
    for one in asked:
        _place(one, places[one.key], merge, tables)
    _follow_leaders(led, tables)
    survivor, merged = merge.survivor, merge.merged
    survivor.refresh_from_db()
    merged.refresh_from_db()
    if asked or corrections or led or not _as_before(merge):
        for patient in (survivor, merged):
            check_record(patient)
            patient.save()
            refresh_compared(patient)
            tell_listeners(patient, by)
    merge.undone_at, merge.undone_by, merge.undone_because = clock.now(), by.user, because
    merge.placed = {one.key: {"words": one.words, "to": places[one.key]} for one in asked}
    merge.save()
    told = {
        "survivor": survivor.pk,
        "merged": merged.pk,
        "because": because,
        "moved back": queries.moved_rows(merge),
        "placed": {one.key: places[one.key] for one in asked},
    }
    record(by, "merge undone", merge, patient=survivor, details=told)
    record(by, "merge undone", merge, patient=merged, details=told)
    return merge


def _put_back_exams(changes: list[Change]) -> None:
    """Findings and slips of the exam that was read again, if nothing happened to them since.

    What somebody has worked on stays as it is; the exam is then read again for the person it belongs to.
    """
    if not all(_now(change) == change["after"] for change in changes):
        return
    try:
        with transaction.atomic():
            # A slip that was taken over names the one that took it over, which goes; findings are unique.
            for change in sorted(changes, key=_changed_then_added_then_taken_away):
                put_back(change)
    except (ProtectedError, IntegrityError):
        return


def _changed_then_added_then_taken_away(change: Change) -> int:
    return 1 if change["before"] is None else 2 if change["after"] is None else 0


def _put_back_where_unchanged(change: Change) -> None:
    """Columns the merge changed, save those that somebody has changed since; a row it added is taken away."""
    now = _now(change)
    if now is None or change["after"] is None:
        return
    if change["before"] is None:
        _take_away(change, now)
        return
    ours = {name for name, value in change["after"].items() if value != change["before"][name]}
    kept = {name for name in ours if now[name] == change["after"][name]}
    put_back(
        {**change, **{when: {name: change[when][name] for name in kept} for when in ("before", "after")}}
    )


def _take_away(change: Change, now: dict[str, Any]) -> None:
    if now != change["after"]:
        return
    try:
        with transaction.atomic():
            put_back(change)
    except ProtectedError:  # somebody has worked on it since
        return


def _now(change: Change) -> dict[str, Any] | None:
    model = apps.get_model(change["table"])
    rows = kept_rows(model._base_manager.filter(pk=change["pk"]))
    return next(iter(rows.values()), None)


def _as_before(merge: Merge) -> bool:
    return all(_now(change) == change["before"] for change in merge.changes)


def _follow(corrections: Mapping[queries.Key, list[queries.Key]], tables: Mapping[str, str]) -> None:
    """A correction goes to the record of what it corrects."""
    for (table, first), rows in corrections.items():
        every = apps.get_model(table)._base_manager
        home = every.values_list(tables[table], flat=True).get(pk=first)
        every.filter(pk__in=[pk for _, pk in rows]).update(**{tables[table]: home})


def _follow_leaders(led: list[tuple[queries.Key, Any]], tables: Mapping[str, str]) -> None:
    """What goes with another row stands under the record of that one."""
    for (table, pk), leader in led:
        home = type(leader)._base_manager.values_list(tables[leader._meta.label_lower], flat=True)
        apps.get_model(table)._base_manager.filter(pk=pk).update(**{tables[table]: home.get(pk=leader.pk)})


def _place(one: queries.Asked, place: str, merge: Merge, tables: Mapping[str, str]) -> None:
    if one.field:
        _place_field(one.field, place, merge)
    elif place == "merged":
        for table, pk in one.rows:
            apps.get_model(table)._base_manager.filter(pk=pk).update(**{tables[table]: merge.merged_id})


def _place_field(field: str, place: str, merge: Merge) -> None:
    """A detail of the person that was changed after the merge: of the one, the other, or both."""
    patients = Patient.objects.filter
    now = patients(pk=merge.survivor_id).values_list(field, flat=True).get()
    if place in ("merged", "both"):
        patients(pk=merge.merged_id).update(**{field: now})
    if place == "merged":
        before = queries.survivor_before(merge)[field]
        patients(pk=merge.survivor_id).update(**values(Patient, {field: before}))
