"""What is read of referrals, and for whom. Every function costs a fixed number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import IntegerField, Prefetch, QuerySet

from access.people import Person
from access.permissions import NotHere, allowed, require
from access.prepared import Given, Prepared, every_column, stored
from access.roles import Role
from exams.followup.course import (
    ANSWERING,
    NEXT_STEP,
    NEXT_STEP_ANSWERING,
    REFERRING,
    UNANSWERED,
    WAITS_FOR_REFERRING,
    Move,
    State,
    Urgency,
    move_to,
    moves_from,
)
from exams.followup.models import Referral, ReferralStep
from exams.followup.queries.settings import Target, targets_of
from exams.followup.targets import due_after
from exams.patients.models import Patient
from exams.patients.queries import today_for, with_identifiers
from exams.visits.models import Exam, ExamState

MOST = 200
_URGENCIES = list(Urgency)


@dataclass(frozen=True)
class ReferralLine:
    """One referral as a line of a list.

    ``due`` is the last day on which what it waits for is in time, None where nobody set one; ``next_step``
    says what the reading person can do.
    """

    id: int
    patient_id: int
    patient_name: str
    side: str
    urgency: str
    urgency_words: str
    state: str
    state_words: str
    sent_to: str
    sent_on: date
    since: datetime
    due: date | None
    due_at_once: bool
    late_days: int
    next_step: str
    day: date | None
    exam_in_error: bool

    @property
    def late(self) -> bool:
        return self.late_days > 0

    @property
    def waits(self) -> bool:
        """Whether it has waited too long, or must not wait at all and has no answer."""
        return self.late or (self.due_at_once and self.state in UNANSWERED)

    @property
    def is_closed(self) -> bool:
        return self.state == State.CLOSED


@dataclass(frozen=True)
class ReferralPage:
    """One referral, its steps the first first, and the steps that this person may take, or take back, now."""

    referral: Referral
    line: ReferralLine
    steps: tuple[ReferralStep, ...]
    moves: tuple[Move, ...]
    slip: ReferralStep | None
    stopped: bool

    @property
    def newest(self) -> ReferralStep:
        return self.steps[-1]

    @property
    def told(self) -> tuple[tuple[ReferralStep, str, bool], ...]:
        """Every step with the words of the role it was taken in, and whether it was taken back since."""
        struck = {step.takes_back_id for step in self.steps}
        return tuple((step, str(Role(step.by_role).label), step.pk in struck) for step in self.steps)


def referral_for(person: Person, referral_id: int) -> Referral:
    """The referral; NotHere for a number of another clinic or of nobody."""
    require(person, "see patient")
    found = _of_clinic(person).filter(pk=referral_id).first()
    if found is None:
        raise NotHere("no such referral in this clinic")
    return found


def referral_page(person: Person, referral_id: int) -> ReferralPage:
    referral = referral_for(person, referral_id)
    steps = tuple(referral.steps.select_related("by").order_by("pk"))
    stopped = referral.patient.died_on is not None
    moves = () if stopped else tuple(move for move in moves_from(referral.state) if allowed(person, move.by))
    line = _line(referral, steps, targets_of(referral.clinic), today_for(person), _answers(person))
    return ReferralPage(referral, line, steps, moves, None if stopped else _slip(person, steps), stopped)


def standing_steps(steps: Sequence[ReferralStep]) -> list[ReferralStep]:
    """Steps that were not taken back, the first first, without those that only took one back."""
    struck = {step.takes_back_id for step in steps}
    return [step for step in steps if step.takes_back_id is None and step.pk not in struck]


def _slip(person: Person, steps: Sequence[ReferralStep]) -> ReferralStep | None:
    """The newest standing step where this person may take it back; a letter may have gone with a sending."""
    newest = standing_steps(steps)[-1]
    move = move_to(newest.before, newest.state)
    may = move is not None and newest.state != State.SENT and allowed(person, move.by)
    return newest if may else None


def referrals_of(person: Person, patient: Patient) -> tuple[ReferralLine, ...]:
    """Every referral of a patient, the open ones first, the newest first; three queries."""
    require(person, "see patient", patient)
    found = _lines(person, _with_steps(Referral.objects.filter(patient=patient)).order_by("-pk"))
    return tuple(sorted(found, key=lambda one: one.is_closed))


def open_referrals(person: Person) -> tuple[ReferralLine, ...]:
    """Every open referral of the clinic of somebody who lives, what waits too long first; three queries."""
    require(person, "see patient")
    return tuple(sorted(_open_lines(person), key=_pressing))


def referrals_waiting(person: Person) -> tuple[ReferralLine, ...]:
    """What Today shows: where this person's side has to act, and what waits too long; three queries.

    The answering side sees what nobody has answered; the referring side what came back to it. Either sees
    what is late, or was sent "at once" and has no answer.
    """
    require(person, "see today")
    mine: set[str] = set()
    if allowed(person, REFERRING):
        mine |= set(WAITS_FOR_REFERRING)
    if allowed(person, ANSWERING):
        mine |= set(UNANSWERED)
    return tuple(
        sorted((one for one in _open_lines(person) if one.waits or one.state in mine), key=_pressing)
    )


def _pressing(line: ReferralLine) -> tuple[Any, ...]:
    urgency = _URGENCIES.index(Urgency(line.urgency))
    return (not line.late, urgency, line.due or date.max, line.since, line.id)


def _open() -> QuerySet[Referral]:
    rows = Referral.objects.filter(clinic_id=Given("clinic", IntegerField()), patient__died_on=None)
    return rows.exclude(state=State.CLOSED).order_by("pk")[:MOST]


_open_referrals = Prepared(
    _open,
    "id",
    "side",
    "sent_to",
    "exam_id",
    "patient_id",
    "patient__family_name",
    "patient__given_name",
    "exam__state",
)
_steps_of_open = Prepared(
    lambda: ReferralStep.objects.filter(referral__in=_open().values("pk")).order_by("pk"),
    *every_column(ReferralStep),
)


def _open_lines(person: Person) -> list[ReferralLine]:
    """Every open referral of somebody who lives: three queries, one where there is none."""
    clinic = person.clinic
    if clinic is None or not (rows := _open_referrals.rows(clinic=clinic.pk)):
        return []
    steps: dict[int, list[ReferralStep]] = {}
    for row in _steps_of_open.rows(clinic=clinic.pk):
        step = stored(ReferralStep, zip(_steps_of_open.columns, row, strict=True))
        steps.setdefault(step.referral_id, []).append(step)
    targets, today, answers = targets_of(clinic), today_for(person), _answers(person)
    found = []
    for number, side, sent_to, exam, patient, family_name, given_name, state in rows:
        columns = {"id": number, "side": side, "sent_to": sent_to, "exam_id": exam, "patient_id": patient}
        # Only of who lives.
        who = {"id": patient, "family_name": family_name, "given_name": given_name, "died_on": None}
        referral = stored(
            Referral,
            columns,
            clinic=clinic,
            patient=stored(Patient, who),
            exam=None if exam is None else stored(Exam, {"id": exam, "state": state}),
        )
        found.append(_line(referral, tuple(steps[number]), targets, today, answers))
    return found


def _with_steps(rows: QuerySet[Referral]) -> QuerySet[Referral]:
    steps = Prefetch("steps", queryset=ReferralStep.objects.order_by("pk"))
    return rows.select_related("clinic", "patient", "exam").prefetch_related(steps)


def _of_clinic(person: Person) -> QuerySet[Referral]:
    patients = Prefetch("patient", queryset=with_identifiers(Patient.objects.select_related("clinic")))
    return (
        Referral.objects.filter(clinic=person.clinic)
        .select_related("clinic", "exam", "made_by")
        .prefetch_related(patients)
    )


def _answers(person: Person) -> bool:
    """Whether the person reads a referral from the answering side alone."""
    return allowed(person, ANSWERING) and not allowed(person, REFERRING)


def _lines(person: Person, rows: Iterable[Referral]) -> list[ReferralLine]:
    found = list(rows)
    if not found or person.clinic is None:
        return []
    targets, today, answers = targets_of(person.clinic), today_for(person), _answers(person)
    return [_line(row, tuple(row.steps.all()), targets, today, answers) for row in found]


def _line(
    referral: Referral,
    steps: tuple[ReferralStep, ...],
    targets: dict[str, Target],
    today: date,
    answers: bool,
) -> ReferralLine:
    standing = standing_steps(steps)
    patient, newest = referral.patient, standing[-1]
    state = State(newest.state)
    sent = [step for step in standing if step.state == State.SENT]
    sent_on = sent[-1].at.astimezone(referral.clinic.zone).date()
    due, at_once = _due(newest, sent_on, targets)
    if patient.died_on is not None:
        due, at_once = None, False
    next_step = (NEXT_STEP_ANSWERING if answers else NEXT_STEP)[state]
    return ReferralLine(
        id=referral.pk,
        patient_id=patient.pk,
        patient_name=f"{patient.family_name}, {patient.given_name}",
        side=referral.side,
        urgency=newest.urgency,
        urgency_words=str(Urgency(newest.urgency).label),
        state=state,
        state_words=str(state.label),
        sent_to=referral.sent_to,
        sent_on=sent_on,
        since=newest.at,
        due=due,
        due_at_once=at_once,
        late_days=max(0, (today - due).days) if due else 0,
        next_step="" if patient.died_on is not None else next_step,
        day=newest.day,
        exam_in_error=referral.exam is not None and referral.exam.state == ExamState.IN_ERROR,
    )


def _due(newest: ReferralStep, sent_on: date, targets: dict[str, Target]) -> tuple[date | None, bool]:
    """The last day in time for what it waits for, and whether that was asked for at once."""
    stage = {
        State.SENT: "answer",
        State.RECEIVED: "answer",
        State.ACCEPTED: "seen",
        State.SEEN: "treated",
    }.get(State(newest.state))
    if newest.state == State.ACCEPTED and newest.day is not None:
        return newest.day, False
    if stage is None:
        return None, False
    target = targets[f"{stage}.{newest.urgency}"]
    if target.days is None:
        return None, False
    return due_after(sent_on, target.days, target.published.unit), target.days == 0
