"""What is read of corrections of identity, and for whom. Every function costs a fixed number of queries."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.apps import apps
from django.db.models import Q

from access.people import Person
from access.permissions import NotHere, require
from exams.hemodynamics import InputError, check_event
from exams.identity.kept import Row, kept_rows, leader_of, leaders_of, pointing_to
from exams.identity.models import Merge
from exams.patients.models import Caution, Identifier, LimbFact, Patient, Side
from exams.patients.services.records import CHANGEABLE
from exams.patients.typed_date import written
from exams.visits.models import Exam, ExamState
from exams.visits.queries.chart import moment_of

LABELS = {
    "family_name": "Family name",
    "given_name": "Given name",
    "birth_date": "Birth date",
    "sex": "Sex",
    "telephone": "Telephone",
    "address": "Address",
    "referrer": "Referred by",
    "died_on": "Died on",
    "diabetes": "Diabetes",
    "kidney_disease": "Kidney disease",
    "neuropathy": "Neuropathy",
    "tobacco": "Tobacco",
}
_NOT_KNOWN = ("", None, "unknown")
# Table and number of a row.
Key = tuple[str, str]


# ---- to be decided before a merge


@dataclass(frozen=True)
class ToDecide:
    """One thing in which two records differ; ``facts`` are two losses that cannot both have been."""

    key: str
    label: str
    survivor: str
    merged: str
    # Which one is offered first: the one that says something where the other says nothing.
    likely: str = ""
    facts: tuple[LimbFact, LimbFact] | None = None
    choices: tuple[str, ...] = ("survivor", "merged")


def to_decide(survivor: Patient, merged: Patient) -> tuple[ToDecide, ...]:
    """Every field in which two records differ, then every pair of losses that exclude each other."""
    fields = tuple(
        ToDecide(
            name, LABELS[name], said(survivor, name), said(merged, name), _likely(survivor, merged, name)
        )
        for name in CHANGEABLE
        if getattr(survivor, name) != getattr(merged, name)
    )
    return (*fields, *_losses_to_decide(survivor, merged))


def alike(survivor: Patient, merged: Patient) -> tuple[tuple[str, str], ...]:
    """Label and words of what two records say alike."""
    return tuple(
        (LABELS[name], said(survivor, name))
        for name in CHANGEABLE
        if getattr(survivor, name) == getattr(merged, name)
    )


def said(patient: Patient, name: str) -> str:
    value = getattr(patient, name)
    if isinstance(value, date):
        return written(value)
    shown = getattr(patient, f"get_{name}_display", None)
    return str(shown() if shown else value or "") or "nothing"


def _likely(survivor: Patient, merged: Patient, name: str) -> str:
    ours, theirs = getattr(survivor, name), getattr(merged, name)
    if theirs in _NOT_KNOWN and ours not in _NOT_KNOWN:
        return "survivor"
    return "merged" if ours in _NOT_KNOWN and theirs not in _NOT_KNOWN else ""


def _losses_to_decide(survivor: Patient, merged: Patient) -> Iterator[ToDecide]:
    standing = LimbFact.objects.filter(
        patient__in=[survivor, merged], kind="amputation", withdrawn_at=None, replaced_by=None
    )
    rows = list(standing.order_by("pk"))
    for ours in (row for row in rows if row.patient_id == survivor.pk):
        for theirs in (row for row in rows if row.patient_id == merged.pk and row.side == ours.side):
            if _exclude_each_other(ours, theirs):
                yield ToDecide(
                    f"facts:{ours.pk}:{theirs.pk}",
                    f"{Side(ours.side).label} amputation",
                    _fact_words(ours),
                    _fact_words(theirs),
                    facts=(ours, theirs),
                )


def _exclude_each_other(ours: LimbFact, theirs: LimbFact) -> bool:
    if ours.event is None or theirs.event is None:
        return False
    try:
        check_event(theirs.event, [ours.event])
        check_event(ours.event, [theirs.event])
    except InputError:
        return True
    return False


def _fact_words(fact: LimbFact) -> str:
    return f"{fact.whose} {fact.words} {fact.when}".strip()


@dataclass(frozen=True)
class Holding:
    """How many rows of one kind either record holds."""

    label: str
    survivor: int
    merged: int


def holdings(survivor: Patient, merged: Patient) -> tuple[Holding, ...]:
    """What hangs on either record, kind by kind; a query a table."""
    found = []
    for model, column in pointing_to(Patient):
        held = Counter(
            model._base_manager.filter(**{f"{column}__in": [survivor.pk, merged.pk]}).values_list(
                column, flat=True
            )
        )
        found.append(Holding(_plural(model), held[survivor.pk], held[merged.pk]))
    return tuple(found)


def _plural(model: Any) -> str:
    return str(model._meta.verbose_name_plural).capitalize()


# ---- merges


def merge_for(person: Person, merge_id: int) -> Merge:
    require(person, "see patient")
    found = (
        Merge.objects.filter(clinic=person.clinic, pk=merge_id)
        .select_related("survivor__clinic", "merged__clinic", "merged_by", "undone_by")
        .first()
    )
    if found is None:
        raise NotHere("no such merge in this clinic")
    return found


@dataclass(frozen=True)
class Notices:
    """What every page of a record says of its identity: merges that stand, exams of another person."""

    merges: tuple[Merge, ...]
    in_error: tuple[Exam, ...]


def notices_of(patient: Patient) -> Notices:
    """Two queries."""
    standing = tuple(one for one in merges_of(patient) if one.undone_at is None)
    return Notices(standing, exams_in_error(patient))


def any_notice_of(patient: Patient) -> bool:
    """Whether `notices_of` would find anything; two queries that read no row."""
    parts = Merge.objects.filter(Q(survivor=patient) | Q(merged=patient), undone_at=None)
    return parts.exists() or Exam.objects.filter(patient=patient, state=ExamState.IN_ERROR).exists()


def merges_of(patient: Patient) -> tuple[Merge, ...]:
    """Every merge this record had a part in, undone ones too, the newest first. One query."""
    found = Merge.objects.filter(Q(survivor=patient) | Q(merged=patient)).defer("changes", "stood")
    return tuple(found.select_related("survivor", "merged", "merged_by", "undone_by").order_by("-pk"))


def merged_after(patient: Patient, moment: datetime) -> bool:
    """Whether another record was merged into this one after ``moment``, and still is. One query."""
    return Merge.objects.filter(survivor=patient, merged_at__gt=moment, undone_at=None).exists()


def later_merge(merge: Merge) -> Merge | None:
    """A merge that built on this one and still stands, the newest first."""
    built_on = Q(survivor=merge.survivor_id) | Q(merged=merge.survivor_id)
    return Merge.objects.filter(built_on, pk__gt=merge.pk, undone_at=None).order_by("-pk").first()


def moved_rows(merge: Merge) -> dict[str, int]:
    """How many rows of each table came from the other record."""
    columns = {model._meta.label_lower: column for model, column in pointing_to(Patient)}
    moved = (
        change["table"]
        for change in merge.changes
        if change["table"] in columns
        and change["before"]
        and change["before"][columns[change["table"]]] != change["after"][columns[change["table"]]]
    )
    return dict(Counter(moved))


def moved_words(merge: Merge) -> tuple[str, ...]:
    """ "2 exams", "1 caution"."""
    said = []
    for table, count in moved_rows(merge).items():
        meta = apps.get_model(table)._meta
        said.append(f"{count} {meta.verbose_name if count == 1 else meta.verbose_name_plural}")
    return tuple(said)


def survivor_before(merge: Merge) -> Row:
    return _survivor_change(merge)["before"]


def _survivor_change(merge: Merge) -> dict[str, Any]:
    return next(
        change
        for change in merge.changes
        if change["table"] == "patients.patient" and change["pk"] == str(merge.survivor_id)
    )


# ---- to be decided before a merge is undone


@dataclass(frozen=True)
class Asked:
    """Something recorded after a merge. ``rows`` go together: a correction goes with what it corrects."""

    key: str
    words: str
    choices: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, str], ...] = ()
    field: str = ""


def recorded_since(merge: Merge) -> tuple[Asked, ...]:
    """What was recorded under the record since a merge: each row, and each changed detail of the person.

    A correction of a row that was there goes where that row goes, and is not asked.
    """
    stays, leaves = (
        f"stays with {merge.survivor.full_name}, record {merge.survivor_id}",
        (f"belongs to {merge.merged.full_name}, record {merge.merged_id}"),
    )
    two = (("survivor", stays), ("merged", leaves))
    asked = [
        Asked(f"{table}:{pk}", _row_words(table, pk), two, rows=rows)
        for (table, pk), rows in _new_rows(merge).items()
    ]
    after = _survivor_change(merge)["after"]
    now = next(iter(kept_rows(Patient.objects.filter(pk=merge.survivor_id)).values()))
    current = Patient.objects.get(pk=merge.survivor_id)
    fields = [
        Asked(
            f"field:{name}",
            f"{LABELS[name]}, changed to “{said(current, name)}”",
            (*two, ("both", "is true of both")),
            field=name,
        )
        for name in CHANGEABLE
        if now[name] != after[name]
    ]
    return (*asked, *fields)


def corrections_since(merge: Merge) -> dict[Key, list[Key]]:
    """Rows that were there at the merge, each with the corrections made of it since."""
    stood = {tuple(key) for key in merge.stood}
    return {
        head: rows[1:] for head, rows in _lines_of(merge.survivor_id).items() if head in stood and rows[1:]
    }


def _new_rows(merge: Merge) -> dict[Key, tuple[Key, ...]]:
    """New rows, each with the corrections made of it since; corrections of what was there are left out.

    So is what goes with another row: it follows that one.
    """
    stood = {tuple(key) for key in merge.stood}
    led = {key for key, _ in led_since(merge)}
    return {
        head: tuple(rows)
        for head, rows in _lines_of(merge.survivor_id).items()
        if head not in stood and head not in led
    }


def led_since(merge: Merge) -> list[tuple[Key, Any]]:
    """Rows recorded since a merge that go with another row, each with that one; leaders come first."""
    stood = {tuple(key) for key in merge.stood}
    found = []
    for model, column in pointing_to(Patient):
        if not leaders_of(model):
            continue
        for row in model._base_manager.filter(**{column: merge.survivor_id}).order_by("pk"):
            key = (model._meta.label_lower, str(row.pk))
            leader = leader_of(row)
            if key not in stood and leader is not None:
                found.append((key, leader))
    return found


def _lines_of(patient_id: int) -> dict[Key, list[Key]]:
    """Every row of a record under the first entry of its line."""
    lines: dict[Key, list[Key]] = {}
    for model, column in pointing_to(Patient):
        table = model._meta.label_lower
        head: dict[int, tuple[str, str]] = {}
        rows = model._base_manager.filter(**{column: patient_id}).order_by("pk")
        before_of = "replaces_id" if hasattr(model, "replaces_id") else "pk"
        for pk, before in rows.values_list("pk", before_of):
            key = (table, str(pk))
            first = head.get(before) if before_of == "replaces_id" and before else None
            head[pk] = first or key
            lines.setdefault(head[pk], []).append(key)
    return lines


def _row_words(table: str, pk: str) -> str:
    row = apps.get_model(table)._base_manager.get(pk=pk)
    if isinstance(row, Exam):
        on = written(moment_of(row).astimezone(row.clinic.zone).date())
        return f"Exam of {on}, {row.get_exam_type_display()}, {row.get_state_display()}"
    if isinstance(row, Caution):
        return f"Caution: {row.words}"
    if isinstance(row, LimbFact):
        return f"Fact: {_fact_words(row)}"
    if isinstance(row, Identifier):
        return f"Identifier {row.issuer} {row.value}"
    return str(row).capitalize()


# ---- exams of the wrong person


def exams_in_error(patient: Patient) -> tuple[Exam, ...]:
    """Exams recorded under this person that were somebody else's, with where they went. One query."""
    found = Exam.objects.filter(patient=patient, state=ExamState.IN_ERROR)
    return tuple(found.select_related("in_error_by", "entered_again_as").order_by("-booked_for", "-pk"))


def exam_with_its_twin(person: Person, exam_id: int) -> Exam:
    """An exam, and the one it was entered again from or as."""
    require(person, "see exam")
    found = (
        Exam.objects.filter(clinic=person.clinic, pk=exam_id)
        .select_related(
            "clinic", "patient", "in_error_by", "entered_again_as", "entered_again_from__in_error_by"
        )
        .first()
    )
    if found is None:
        raise NotHere("no such exam in this clinic")
    return found
