"""A death on record stops all that waits for a person; taken back, everything stands as it stood.

Nothing is changed for it: every list of this room leaves out whoever died, and every service refuses. So the
undoing is exact. What is written is one line in the trail, which names what stopped or goes on.
"""

from access.people import Person
from access.trail import record
from exams.followup.course import State
from exams.followup.models import Promise, Recall, Referral
from exams.patients.models import Patient
from exams.visits.models import Exam, ExamState


def follow_life(*, patient: Patient, by: Person) -> None:
    """Tell the trail what a death stopped, or what goes on; part of the act that recorded either."""
    standing = {
        "referrals": Referral.objects.filter(patient=patient).exclude(state=State.CLOSED),
        "recalls": Recall.objects.filter(patient=patient, ended_at=None),
        "promises": Promise.objects.filter(patient=patient, kept_at=None, called_off_at=None),
        "bookings": Exam.objects.filter(patient=patient, state=ExamState.BOOKED),
    }
    found = {name: list(rows.order_by("pk").values_list("pk", flat=True)) for name, rows in standing.items()}
    what = "follow-up goes on" if patient.died_on is None else "follow-up stopped by death"
    record(by, what, patient, details={**found, "died on": patient.died_on})
