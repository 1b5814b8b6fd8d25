"""Referrals, recalls and promises for tests, made through the services as people would make them."""

from datetime import date, timedelta

from access import clock
from exams.followup import services
from exams.followup.models import Promise, Recall, Referral, ReferralStep
from exams.patients.services import change_patient


def today() -> date:
    return clock.now().date()


def referral(by, patient, **said) -> Referral:
    said = {"sent_to": "Vascular surgery", "urgency": "one_working_day", "reasons": "toe 28, ulcer", **said}
    return services.send_referral(patient=patient, by=by, **said)


def step(of, after, by, **said) -> ReferralStep:
    """The next step, by somebody who looks at the newest one."""
    said = {"seen": newest(of).pk, **said}
    return services.take_step(referral=of, after=after, by=by, **said)


def newest(of) -> ReferralStep:
    return of.steps.get(followed_by=None)


def recall(by, patient, category=2, counted_from=None, **said) -> Recall:
    counted_from = counted_from or today()
    said = {"because": "", **said}
    return services.plan_recall(patient=patient, category=category, counted_from=counted_from, by=by, **said)


def promise(by, patient, days=30, **said) -> Promise:
    said = {"kind": "see", "words": "See again", "due_on": today() + timedelta(days=days), **said}
    return services.make_promise(patient=patient, by=by, **said)


def die(by, patient, on: date | None) -> None:
    """Record a death, or take it back."""
    patient.refresh_from_db()
    change_patient(patient=patient, revision=patient.revision, by=by, died_on=on)
    patient.refresh_from_db()
