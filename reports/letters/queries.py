"""What is read of letters, and for whom; and the content of a letter about to be made."""

from dataclasses import dataclass

from django.conf import settings

from access import clock
from access.people import Person
from access.permissions import NotHere, require
from access.roles import Role
from exams.followup.models import Referral, ReferralStep
from exams.followup.queries.referrals import referral_for
from exams.patients.models import Patient
from exams.patients.queries import cautions_in_force, today_in
from reports.documents import assemble
from reports.documents.content import ClinicFacts, Fact, Identity
from reports.letters.content import LetterContent
from reports.letters.models import ReferralLetter

ASKED = (
    "Please say whether it was received, accepted (and the day), returned with a question or declined, and "
    "after the visit what was found, what was done, and what is asked of the wound team now."
)


@dataclass(frozen=True)
class LettersPage:
    """Every letter of a referral, the newest first."""

    referral: Referral
    letters: tuple[ReferralLetter, ...]


def letters_page(person: Person, referral_id: int) -> LettersPage:
    """NotHere for another clinic's referral."""
    referral = referral_for(person, referral_id)
    found = ReferralLetter.objects.filter(step__referral=referral).select_related("created_by", "job", "step")
    return LettersPage(referral, tuple(found.order_by("-pk")))


def letter_for(person: Person, letter_id: int) -> ReferralLetter:
    """The letter; NotHere for a number of another clinic or of nobody."""
    require(person, "see patient")
    found = (
        ReferralLetter.objects.filter(clinic=person.clinic, pk=letter_id)
        .select_related("clinic", "created_by", "job", "step__referral__patient")
        .first()
    )
    if found is None:
        raise NotHere("no such letter in this clinic")
    return found


def letter_content(step: ReferralStep, by: Person) -> LetterContent:
    """Everything the letter of one sending says, as the record stands now."""
    referral = step.referral
    patient, clinic = referral.patient, referral.clinic
    made_at = assemble.moment(clock.now(), clinic.zone)
    return LetterContent(
        title="Referral to the vascular side",
        status=f"REFERRAL: {step.get_urgency_display()}",
        reference=f"referral {referral.pk}",
        clinic=ClinicFacts(clinic.name, clinic.address, clinic.phone),
        identity=_identity(patient),
        invented=settings.DEMO,
        sent_to=referral.sent_to,
        limb=referral.get_side_display() or "both limbs, or the whole person",
        urgency=step.get_urgency_display(),
        again=step.words,
        reasons=referral.reasons,
        facts=_facts(patient),
        asked=ASKED,
        software=f"vaslab {settings.VERSION}",
        made=f"Sent by {by.name} as {Role(step.by_role).label} on {made_at}.",
        made_at=f"sent {made_at}",
    )


def _facts(patient: Patient) -> tuple[Fact, ...]:
    cautions = cautions_in_force(patient, today_in(patient.clinic)).all
    return (
        Fact("Diabetes", patient.get_diabetes_display()),
        Fact("Kidney disease", patient.get_kidney_disease_display()),
        Fact("Tobacco", patient.get_tobacco_display()),
        Fact("Cautions", "; ".join(one.words for one in cautions) or "none on record"),
        Fact("Telephone of the person", patient.telephone or "none on record"),
        Fact("Referred to us by", patient.referrer or "not recorded"),
    )


def _identity(patient: Patient) -> Identity:
    numbers = patient.identifiers.filter(withdrawn_at=None).order_by("pk")
    return Identity(
        name=f"{patient.family_name}, {patient.given_name}",
        birth_date=assemble.day(patient.birth_date),
        sex=str(patient.get_sex_display()),
        identifiers=tuple(f"{one.issuer} {one.value}" for one in numbers) or ("no identifier on record",),
    )
