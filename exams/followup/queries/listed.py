"""What programs read of referrals: a list by filter, a part at a time, and one held while a step is taken."""

from datetime import date

from access.paging import Asked, Part, part_of, within_days
from access.people import Person
from access.permissions import NotHere, require
from exams.followup.models import Referral, ReferralStep
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
