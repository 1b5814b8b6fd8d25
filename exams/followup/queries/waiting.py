"""What waits for one person, as the patient page says it: one line each, three queries on their indexes."""

from dataclasses import dataclass

from access.people import Person
from access.permissions import require
from exams.followup.course import State, Urgency
from exams.followup.models import Promise, Recall, Referral
from exams.followup.queries.promises import PromiseLine, promises_of
from exams.patients.models import Patient
from exams.patients.queries import today_in


@dataclass(frozen=True)
class Waiting:
    """``stopped``: death is recorded, so nothing is due. ``broken`` counts promises past their day."""

    stopped: bool
    referrals: tuple[tuple[int, str], ...]
    promises: tuple[PromiseLine, ...]
    recalls: tuple[tuple[int, str], ...]

    @property
    def any(self) -> bool:
        return bool(self.referrals or self.promises or self.recalls)


def anything_waits_for(patient: Patient) -> bool:
    """Whether `waiting_for` has anything to say; at most three narrow queries."""
    return (
        Referral.objects.filter(patient=patient).exclude(state=State.CLOSED).exists()
        or Promise.objects.filter(patient=patient, kept_at=None, called_off_at=None).exists()
        or Recall.objects.filter(patient=patient, ended_at=None).exists()
    )


def nothing_waits_for(patient: Patient) -> Waiting:
    """The same where it is known that nothing waits; no query."""
    return Waiting(patient.died_on is not None, (), (), ())


def waiting_for(person: Person, patient: Patient) -> Waiting:
    """Open referrals, standing promises and recalls of a patient: number and words."""
    require(person, "see patient", patient)
    today = today_in(patient.clinic)
    referrals = Referral.objects.filter(patient=patient).exclude(state=State.CLOSED).order_by("pk")
    recalls = Recall.objects.filter(patient=patient, ended_at=None).order_by("due_by", "pk")
    return Waiting(
        stopped=patient.died_on is not None,
        referrals=tuple(
            (pk, f"{State(state).label}, {Urgency(urgency).label}")
            for pk, state, urgency in referrals.values_list("pk", "state", "urgency")
        ),
        promises=promises_of(person, patient, standing=True),
        recalls=tuple(
            (pk, f"{'overdue since' if due_by < today else 'due by'} {due_by.day} {due_by:%b %Y}")
            for pk, due_by in recalls.values_list("pk", "due_by")
        ),
    )
