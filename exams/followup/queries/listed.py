"""What programs read of follow-up: lists by filter, a part at a time, and one held while a step is taken."""

from datetime import date

from django.db.models import QuerySet

from access.paging import Asked, Part, part_of, within_dates, within_days
from access.people import Person
from access.permissions import NotHere, require
from exams.followup.models import ContactAttempt, Promise, Recall, Referral, ReferralStep
from exams.followup.queries.promises import promise_for
from exams.followup.queries.recalls import recall_for
from exams.followup.queries.referrals import referral_for


def referrals_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    state: str = "",
    since: date | None = None,
    until: date | None = None,
) -> Part[Referral]:
    """The clinic's referrals, those made from since to until. One query."""
    require(person, "see patient")
    if person.clinic is None:
        raise NotHere("acting in no clinic")
    made = within_days("made_at", person.clinic, since, until)
    rows = Referral.objects.filter(made, clinic=person.clinic)
    if patient is not None:
        rows = rows.filter(patient_id=patient)
    if state:
        rows = rows.filter(state=state)
    return part_of(rows, asked, filled=lambda found: found.select_related("made_by"))


def steps_of(referral: Referral) -> list[ReferralStep]:
    """Every step of a referral, the first first; one query."""
    return list(referral.steps.select_related("by").order_by("pk"))


def held_referral(person: Person, referral_id: int) -> Referral:
    """The same as `referral_for`, held until the act is over."""
    referral = referral_for(person, referral_id)
    Referral.objects.select_for_update(of=("self",)).get(pk=referral.pk)
    return referral_for(person, referral_id)


def recalls_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    kind: str = "",
    standing: bool = False,
    since: date | None = None,
    until: date | None = None,
) -> Part[Recall]:
    """The clinic's recalls, those due by a day from since to until. One query."""
    require(person, "see patient")
    rows = Recall.objects.filter(within_dates("due_by", since, until), clinic=person.clinic)
    if patient is not None:
        rows = rows.filter(patient_id=patient)
    if kind:
        rows = rows.filter(kind=kind)
    if standing:
        rows = rows.filter(ended_at=None)
    return part_of(rows, asked, filled=lambda found: found.select_related("made_by"))


def contacts_of(recall: Recall) -> QuerySet[ContactAttempt]:
    """Every try to reach somebody, the first first; one query."""
    return recall.attempts.select_related("entered_by").order_by("tried_on", "pk")


def recall_after(recall: Recall) -> int | None:
    """The number of the recall that began when this one ended as seen; None for none. One query."""
    return Recall.objects.filter(follows=recall).values_list("pk", flat=True).first()


def held_recall(person: Person, recall_id: int) -> Recall:
    """The same as `recall_for`, held until the act is over."""
    recall = recall_for(person, recall_id)
    Recall.objects.select_for_update(of=("self",)).get(pk=recall.pk)
    return recall_for(person, recall_id)


def promises_listed(
    person: Person,
    asked: Asked,
    *,
    patient: int | None = None,
    standing: bool = False,
    since: date | None = None,
    until: date | None = None,
) -> Part[Promise]:
    """The clinic's promises, those to be kept by a day from since to until. One query."""
    require(person, "see patient")
    rows = Promise.objects.filter(within_dates("due_on", since, until), clinic=person.clinic)
    if patient is not None:
        rows = rows.filter(patient_id=patient)
    if standing:
        rows = rows.filter(kept_at=None, called_off_at=None)
    return part_of(rows, asked, filled=lambda found: found.select_related("made_by"))


def held_promise(person: Person, promise_id: int) -> Promise:
    """The same as `promise_for`, held until the act is over."""
    promise = promise_for(person, promise_id)
    Promise.objects.select_for_update(of=("self",)).get(pk=promise.pk)
    return promise_for(person, promise_id)
