"""What a referral letter says, frozen: words exactly as printed. The template only lays them out."""

from dataclasses import dataclass

from reports.documents.content import ClinicFacts, Fact, Identity


@dataclass(frozen=True, slots=True)
class LetterContent:
    """The whole letter. ``again`` is empty the first time; later, what was answered or is new."""

    title: str
    status: str
    reference: str
    clinic: ClinicFacts
    identity: Identity
    invented: bool
    sent_to: str
    limb: str
    urgency: str
    again: str
    reasons: str
    facts: tuple[Fact, ...]
    asked: str
    software: str
    made: str
    made_at: str
