"""Example objects of the letters for the walk through every page."""

from reports.letters.models import ReferralLetter
from tests.followup.make import referral
from tests.patients.make import register


def examples(cast):
    patient = register(cast.measurer, "Letterley", "Lea", duplicate_reason="not seen")
    sent = referral(cast.wound_nurse, patient)
    letter = {"letter_id": ReferralLetter.objects.get(step__referral=sent).pk}
    return {
        "letters:referral": {"referral_id": sent.pk},
        "letters:pdf": letter,
        "letters:again": letter,
    }
