"""A referral from sending to closing: each step a row, taken by the side whose step it is."""

from collections.abc import Callable
from datetime import date

from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from access.permissions import require
from access.trail import one_act, record
from exams.followup.course import REFERRING, State, Urgency, move_to
from exams.followup.models import Referral, ReferralStep
from exams.followup.queries.referrals import standing_steps
from exams.followup.services.common import (
    check,
    living,
    need,
    one_of,
    refuse_not_past,
    refuse_not_to_come,
)
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState

# The room above that writes the letter: it enters itself while Django starts, as in patients.services.common.
LISTENERS: list[Callable[..., object]] = []

_MEANWHILE = (
    "Meanwhile somebody took another step: this referral is now “{}”. Nothing was changed and what you typed "
    "is kept; read what stands there, then decide again."
)


def on_referral_sent(do: Callable[..., object]) -> None:
    """Have ``do(step=…, by=…)`` called inside the act that sends a referral, the first time or again."""
    if do not in LISTENERS:
        LISTENERS.append(do)


@one_act()
def send_referral(
    *,
    patient: Patient,
    sent_to: str,
    urgency: str,
    reasons: str,
    by: Person,
    side: str = "",
    exam: Exam | None = None,
    urgency_proposed: str = "",
    reasons_proposed: str = "",
) -> Referral:
    """Send a person to the surgeon's side. The same request twice makes one referral and one letter.

    Parameters
    ----------
    exam : the exam whose findings it rests on, if any.
    urgency_proposed, reasons_proposed : what the page proposed before the person edited it.

    Raises
    ------
    ValidationError
        By field; at ``exam`` where that exam is another person's or was entered in error.
    """
    role = require(by, REFERRING, patient)
    patient = living(patient)
    sent_to = need(sent_to, "sent_to", "Say to whom: the team, and the person if you know who.")
    reasons = need(reasons, "reasons", "Say why. What is known of the foot today is enough.")
    urgency = one_of(urgency, Urgency.values, "urgency", "Choose how soon.")
    if exam is not None and (exam.patient_id != patient.pk or exam.state == ExamState.IN_ERROR):
        raise ValidationError({"exam": "This exam is not this person's. Open the page from the right one."})
    said = {"sent_to": sent_to, "reasons": reasons, "urgency": urgency, "side": side, "exam": exam}
    before = Referral.objects.filter(patient=patient, made_by=by.user, state=State.SENT, **said).first()
    if before is not None:
        return before
    referral = Referral(
        clinic=patient.clinic,
        patient=patient,
        urgency_proposed=urgency_proposed,
        reasons_proposed=reasons_proposed,
        made_at=clock.now(),
        made_by=by.user,
        **said,
    )
    check(referral)
    referral.save()
    step = _add(referral, None, State.SENT, urgency, by, role)
    record(by, "referral sent", referral, details={"urgency": urgency, "side": side, "to": sent_to})
    _tell(step, by)
    return referral


@one_act()
def take_step(
    *,
    referral: Referral,
    after: str,
    seen: int,
    by: Person,
    words: str = "",
    day: date | None = None,
    said_by: str = "",
    urgency: str = "",
) -> ReferralStep:
    """Take one step. The same request twice takes one.

    Parameters
    ----------
    after : the state it leads to.
    seen : the number of the newest step the person was looking at.
    day : the day to be seen, or on which it happened, where the step has one.
    said_by : who said so, where that is not ``by``: an answer that came by letter or telephone.
    urgency : where the step changes it; empty leaves it as it is.

    Raises
    ------
    ValidationError
        By field; nothing is changed where somebody took a step meanwhile, or this one does not follow.
    """
    patient = living(referral.patient)
    referral = Referral.objects.select_for_update(of=("self",)).get(pk=referral.pk)
    referral.patient = patient
    newest = ReferralStep.objects.get(referral=referral, followed_by=None)
    if newest.pk != seen:
        if newest.by_id == by.user.pk and (newest.state, newest.words) == (after, words.strip()):
            return newest
        raise ValidationError(_MEANWHILE.format(State(newest.state).label), code="meanwhile")
    move = move_to(newest.state, after)
    if move is None:
        raise ValidationError(
            {"after": f"This referral is “{State(newest.state).label}”. Choose a step that follows from it."}
        )
    role = require(by, move.by, referral)
    if move.words:
        words = need(words, "words", move.words)
    if urgency:
        one_of(urgency, Urgency.values, "urgency", "Choose how soon.")
    if day is not None and not move.day:
        wrong = f"“{move.does}” has no day. Clear it, or choose the step it belongs to."
        raise ValidationError({"day": wrong})
    if move.day == "expected" and day is not None:
        refuse_not_to_come("day", day, patient)
    elif move.day == "happened":
        if day is None:
            raise ValidationError({"day": "Write the day it was, or “today”."})
        refuse_not_past("day", day, patient, since=_first_day(referral))
    step = _add(
        referral,
        newest,
        after,
        urgency or newest.urgency,
        by,
        role,
        words=words.strip(),
        day=day if move.day else None,
        said_by=said_by.strip(),
    )
    referral.state, referral.urgency = step.state, step.urgency
    referral.save(update_fields=["state", "urgency"])
    details = {"was": newest.state, "now": step.state, "step": step.pk}
    if step.urgency != newest.urgency:
        details["urgency"] = [newest.urgency, step.urgency]
    record(by, f"referral {State(after).label}", referral, details=details)
    if after == State.SENT:
        _tell(step, by)
    return step


@one_act()
def take_step_back(*, referral: Referral, seen: int, because: str, by: Person) -> ReferralStep:
    """Undo the newest step, a slip, by a further one; both stay, with who and why. Twice undoes one.

    Parameters
    ----------
    seen : the number of the step to undo, which the person was looking at.

    Raises
    ------
    ValidationError
        Where somebody took a step meanwhile, or it was a sending: its letter may have gone out.
    """
    patient = living(referral.patient)
    referral = Referral.objects.select_for_update(of=("self",)).get(pk=referral.pk)
    referral.patient = patient
    steps = list(ReferralStep.objects.filter(referral=referral).order_by("pk"))
    newest = steps[-1]
    if newest.takes_back_id == seen and newest.by_id == by.user.pk:
        return newest
    standing = standing_steps(steps)
    slip = standing[-1]
    if slip.pk != seen:
        raise ValidationError(_MEANWHILE.format(State(newest.state).label), code="meanwhile")
    move = move_to(slip.before, slip.state)
    role = require(by, move.by if move else REFERRING, referral)
    if slip.state == State.SENT:
        raise ValidationError(
            "A sending is not taken back: its letter may have gone out. Close the referral with the reason, "
            "and tell whom it was sent to.",
            code="sent",
        )
    because = need(because, "because", "Say why: the reason is kept with the record.")
    before = standing[-2]
    step = _add(
        referral,
        newest,
        before.state,
        before.urgency,
        by,
        role,
        words=because,
        day=before.day,
        takes_back=slip,
    )
    referral.state, referral.urgency = step.state, step.urgency
    referral.save(update_fields=["state", "urgency"])
    details = {"was": slip.state, "now": step.state, "step": slip.pk, "because": because}
    record(by, "referral step taken back", referral, details=details)
    return step


def _add(
    referral: Referral,
    follows: ReferralStep | None,
    state: str,
    urgency: str,
    by: Person,
    role: str,
    *,
    words: str = "",
    day: date | None = None,
    said_by: str = "",
    takes_back: ReferralStep | None = None,
) -> ReferralStep:
    step = ReferralStep(
        referral=referral,
        follows=follows,
        takes_back=takes_back,
        before=follows.state if follows else "",
        state=state,
        urgency=urgency,
        words=words,
        day=day,
        said_by=said_by,
        at=clock.now(),
        by=by.user,
        by_role=role,
    )
    check(step)
    step.save()
    return step


def _tell(step: ReferralStep, by: Person) -> None:
    for listener in LISTENERS:
        listener(step=step, by=by)


def _first_day(referral: Referral) -> date:
    return referral.made_at.astimezone(referral.patient.clinic.zone).date()
