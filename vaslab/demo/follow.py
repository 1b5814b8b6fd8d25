"""Tells of referrals, recalls and promises through the services, on the days it happened."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from functools import partial

from access import clock
from access.people import Person
from exams.followup import services
from exams.followup.models import Promise, Referral, ReferralStep
from exams.followup.queries.patient import referral_proposal
from exams.followup.queries.recalls import recalls_of
from exams.patients.models import Patient
from vaslab.demo.story import Answered, Promised, Referred, Story, Tried

# Days after the beginning, and what is told then; a beginning is some weeks ago at an hour of the day.
Told = tuple[int, int, float, Callable[[], None]]


def follow_events(
    story: Story, patient: Callable[[], Patient], nurse: Person, surgeon: Person
) -> Iterator[Told]:
    """Weeks ago, hour, days after that, and what is told; ``patient`` is known when it is told."""
    for referred in story.referrals:
        yield from _referral(referred, patient, nurse, surgeon)
    for promised in story.promises:
        yield from _promise(promised, patient, nurse)
    for tried in story.tries:
        yield tried.weeks, 11, 0, partial(_try, tried, patient, nurse)


def settle_recalls(patient: Patient, category: int | None, nurse: Person) -> None:
    """After an exam: whoever was due was seen; the next date is set where the story names a category."""
    today = clock.now().astimezone(patient.clinic.zone).date()
    standing = [one for one in recalls_of(nurse, patient) if one.recall.ended_at is None]
    for line in standing:
        if not line.by_category and line.measured_on:
            services.mark_seen(recall=line.recall, on=today, how="new baseline measured", by=nurse)
    if category is None:
        return
    for line in standing:
        if line.by_category:
            services.mark_seen(
                recall=line.recall, on=today, how="both feet seen and measured", category=category, by=nurse
            )
            return
    services.plan_recall(patient=patient, category=category, counted_from=today, because="", by=nurse)


def _referral(
    referred: Referred, patient: Callable[[], Patient], nurse: Person, surgeon: Person
) -> Iterator[Told]:
    kept: dict[str, Referral] = {}

    def sent() -> None:
        offered = referral_proposal(nurse, patient().pk)
        kept["referral"] = services.send_referral(
            patient=patient(),
            exam=offered.exam,
            side=referred.side,
            sent_to=referred.to,
            urgency=referred.urgency,
            reasons=f"{referred.words}\n{offered.reasons}".strip(),
            urgency_proposed=offered.urgency,
            reasons_proposed=offered.reasons,
            by=nurse,
        )

    def answered(step: Answered) -> None:
        today = clock.now().astimezone(patient().clinic.zone).date()
        services.take_step(
            referral=kept["referral"],
            after=step.state,
            seen=ReferralStep.objects.get(referral=kept["referral"], followed_by=None).pk,
            words=step.words,
            day=today + timedelta(days=step.in_days) if step.in_days is not None else None,
            by=nurse if step.state in ("closed", "sent") else surgeon,
        )

    yield referred.weeks, 16, 0, sent
    for step in referred.steps:
        yield referred.weeks, 16, step.after_days, partial(answered, step)


def _promise(promised: Promised, patient: Callable[[], Patient], nurse: Person) -> Iterator[Told]:
    kept: dict[str, Promise] = {}

    def made() -> None:
        today = clock.now().astimezone(patient().clinic.zone).date()
        kept["promise"] = services.make_promise(
            patient=patient(),
            kind=promised.kind,
            side=promised.side,
            words=promised.words,
            due_on=today + timedelta(days=promised.in_days),
            by=nurse,
        )

    def done() -> None:
        services.keep_promise(promise=kept["promise"], how=promised.kept, by=nurse)

    yield promised.weeks, 16, 0, made
    if promised.kept:
        yield promised.weeks, 16, promised.in_days - 1, done


def _try(tried: Tried, patient: Callable[[], Patient], nurse: Person) -> None:
    line = next(one for one in recalls_of(nurse, patient()) if one.recall.ended_at is None)
    services.record_contact(
        recall=line.recall,
        tried_on=clock.now().astimezone(patient().clinic.zone).date(),
        way=tried.way,
        outcome=tried.outcome,
        words=tried.words,
        by=nurse,
    )
