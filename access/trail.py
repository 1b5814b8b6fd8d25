"""Writing the trail: one act, its changes and its lines, in one transaction.

A service is an act::

    @one_act()
    def correct_reading(*, reading, pressure_mmhg, reason, by):
        require(by, "correct readings", reading)
        ...
        record(by, "reading corrected", replacement, patient=reading.exam.patient, details={...})

The lines are written last, just before the commit, so that the lock on the chain's end is held for an
instant only. If they cannot be written, nothing of the act is kept.
"""

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models, transaction

from access import acting, clock
from access.models import TrailHead, TrailRow
from access.people import Person

Line = dict[str, Any]
# Lines hashed and written at once: of an act on many patients they are never all held.
_WRITTEN_AT_ONCE = 1_000


@dataclass(frozen=True)
class Lines:
    """Lines alike but for patient and details, asked for when they are written."""

    alike: Line
    of_each: Callable[[], Iterable[tuple[int, dict[str, Any]]]]

    def __iter__(self) -> Iterator[Line]:
        for patient, details in self.of_each():
            yield {**self.alike, "patient_id": patient, "details_json": _as_text(details)}


@dataclass
class Act:
    """One act in hand: the trail lines that its commit will write, and whose records it changed."""

    lines: list[Line | Lines] = field(default_factory=list)
    changed: set[int] = field(default_factory=set)


# Who is told, before the lines are written, of which patients' records an act has changed.
_told_of_changes: list[Callable[[list[int]], None]] = []


def on_change(tell: Callable[[list[int]], None]) -> None:
    """Let `tell` be called in every act that changed records of patients, with their numbers in order."""
    if tell not in _told_of_changes:
        _told_of_changes.append(tell)


_in_hand: ContextVar[Act | None] = ContextVar("act in hand", default=None)


@contextmanager
def one_act() -> Iterator[Act]:
    """One database transaction whose trail lines are written last; an inner act joins the outer one.

    Works as a decorator too. An inner act that fails takes its own changes and lines with it and leaves the
    outer one whole. The outermost act may not stand inside a bare transaction: its lines would no longer be
    the last thing before the commit (RuntimeError).
    """
    outer = _in_hand.get()
    if outer is None:
        with transaction.atomic(durable=True):
            act = Act()
            token = _in_hand.set(act)
            try:
                yield act
            finally:
                _in_hand.reset(token)
            for changed in _changed(act):
                for tell in _told_of_changes:
                    tell(changed)
            _write(act.lines)
    else:
        kept = len(outer.lines)
        try:
            with transaction.atomic():
                yield outer
        except BaseException:
            del outer.lines[kept:]
            raise


def record(
    by: Person | None,
    action: str,
    subject: Any = None,
    *,
    patient: Any = None,
    details: dict[str, Any] | None = None,
    only_seen: bool = False,
) -> None:
    """Add a line to the act in hand.

    Parameters
    ----------
    by : who acts; None for an act of nobody signed in, which goes to the service's own chain.
    action : a plain phrase in the past tense, at most 100 characters ("reading recorded").
    subject : a stored row the act is about.
    patient : the patient concerned (a row or its number); the subject's own patient if left out.
    details : a small mapping; old and new values are allowed, the trail is protected.
    only_seen : the record was looked at and nothing in it changed; `on_change` is not told.

    Raises
    ------
    RuntimeError
        Outside ``one_act``: a line without its act, or an act without its line, must not exist.
    """
    act = _act_in_hand()
    line, number = _line(by, action, subject), _patient_number(subject, patient)
    if number is not None and not only_seen:
        act.changed.add(number)
    act.lines.append({**line, "patient_id": number, "details_json": _as_text(details or {})})


def record_each(
    by: Person | None,
    action: str,
    subject: Any,
    of_each: Callable[[], Iterable[tuple[int, dict[str, Any]]]],
) -> None:
    """Add a line for each of many patients whose records the act in hand has changed.

    Parameters
    ----------
    of_each : gives number and details of each patient, in the order of the numbers. Called twice, inside the
        act and after everything else in it, so that no list of them need be held.

    Raises
    ------
    RuntimeError
        Outside ``one_act``.
    """
    _act_in_hand().lines.append(Lines(_line(by, action, subject), of_each))


def record_view(
    by: Person, what: str, patient: Any = None, subject: Any = None, details: dict[str, Any] | None = None
) -> None:
    """One line of its own for a page about to be sent: "patient page viewed"."""
    with one_act():
        record(by, what, subject, patient=patient, details=details, only_seen=True)


def row_hash(row: TrailRow) -> str:
    """The SHA-256 over the row before and everything this one says, in hexadecimal."""
    said = [
        row.previous_hash,
        row.clinic_id,
        row.sequence,
        row.at.astimezone(UTC).isoformat(timespec="microseconds"),
        row.user_id,
        row.role,
        row.action,
        row.subject_type,
        row.subject_id,
        row.patient_id,
        row.details_json,
        row.request_id,
        row.came_from,
    ]
    return hashlib.sha256(json.dumps(said, ensure_ascii=False).encode()).hexdigest()


def _act_in_hand() -> Act:
    act = _in_hand.get()
    if act is None:
        raise RuntimeError("A trail line can only be recorded inside one_act().")
    return act


def _line(by: Person | None, action: str, subject: Any) -> Line:
    """What a line says but for patient and details."""
    came_from = acting.origin()
    return {
        "clinic_id": by.clinic.pk if by and by.clinic else None,
        "at": clock.now(),
        "user_id": by.user.pk if by else None,
        "role": _role_acted_in(by) if by else "",
        "action": action,
        "subject_type": _kind_of(subject),
        "subject_id": "" if subject is None else str(subject.pk),
        "request_id": came_from.request_id,
        "came_from": came_from.address,
    }


def _changed(act: Act) -> Iterator[list[int]]:
    """Whose records the act has changed, in order; of many, so many at a time."""
    if act.changed:
        yield sorted(act.changed)
    for line in act.lines:
        if isinstance(line, Lines):
            patients = (patient for patient, _ in line.of_each())
            while some := list(islice(patients, _WRITTEN_AT_ONCE)):
                yield some


def _clinic_of(line: Line | Lines) -> int | None:
    alike = line.alike if isinstance(line, Lines) else line
    clinic: int | None = alike["clinic_id"]
    return clinic


def _write(lines: list[Line | Lines]) -> None:
    # Always clinic by clinic in the same order, or two acts could each hold the end the other waits for.
    chains = sorted({_clinic_of(line) for line in lines}, key=lambda number: number or 0)
    for clinic_id in chains:
        head = _locked_head(clinic_id)
        of_chain = (line for line in lines if _clinic_of(line) == clinic_id)
        rows = (row for line in of_chain for row in _rows(head, line))
        while some := list(islice(rows, _WRITTEN_AT_ONCE)):
            TrailRow.objects.bulk_create(some)
        head.save(update_fields=["sequence", "hash"])


def _rows(head: TrailHead, line: Line | Lines) -> Iterator[TrailRow]:
    """The rows of a line, each chained to the one before; the head moves along."""
    for one in line if isinstance(line, Lines) else (line,):
        head.sequence += 1
        row = TrailRow(sequence=head.sequence, previous_hash=head.hash, **one)
        row.hash = head.hash = row_hash(row)
        # That clinic and person exist, the foreign keys say; asked here it would cost two queries a line.
        row.clean_fields(exclude={"clinic", "user"})
        yield row


def _locked_head(clinic_id: int | None) -> TrailHead:
    ends = TrailHead.objects.select_for_update()
    head = ends.filter(models.Q(clinic_id=clinic_id)).first()
    if head is None:
        # Two first lines of one clinic may meet here; the unique constraint lets one in.
        TrailHead.objects.bulk_create([TrailHead(clinic_id=clinic_id)], ignore_conflicts=True)
        head = ends.get(models.Q(clinic_id=clinic_id))
    return head


def _role_acted_in(by: Person) -> str:
    noted = acting.role_noted_for(by.user.pk)
    if noted in by.roles:
        return noted or ""
    return min(by.roles, default="")


def _kind_of(subject: Any) -> str:
    if subject is None:
        return ""
    if not isinstance(subject, models.Model):
        raise TypeError(f"A trail line is about a stored row, not about a {type(subject).__name__}.")
    return subject._meta.label_lower


def _patient_number(subject: Any, patient: Any) -> int | None:
    if patient is None and subject is not None:
        if subject._meta.model_name == "patient":
            return int(subject.pk)
        patient = getattr(subject, "patient_id", None)
        if patient is None:
            patient = getattr(getattr(subject, "exam", None), "patient_id", None)
    return patient if patient is None or isinstance(patient, int) else int(patient.pk)


def _as_text(details: dict[str, Any]) -> str:
    # Escaped to plain ASCII: a typed zero byte or half a character must not keep the line from being written.
    return json.dumps(details, cls=_Plain, sort_keys=True)


class _Plain(DjangoJSONEncoder):
    """Dates and decimals as Django writes them, other moments in UTC, sets as sorted lists."""

    def default(self, o: Any) -> Any:
        if isinstance(o, datetime) and o.tzinfo:
            return o.astimezone(UTC).isoformat()
        if isinstance(o, set | frozenset):
            return sorted(o)
        return super().default(o)
