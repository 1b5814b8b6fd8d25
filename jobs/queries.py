"""Which jobs a person may see: those of the clinic they act in."""

from django.db.models import IntegerField, QuerySet

from access.paging import Asked, Part, part_of
from access.people import Person
from access.permissions import NotHere, require
from access.prepared import Given, Prepared
from jobs.models import Job, JobState

SHOWN = 100


def job_for(person: Person, number: int) -> Job:
    """The job, if it is of the clinic the person acts in.

    Raises
    ------
    PermissionDenied, NotHere
    """
    require(person, "see jobs")
    found = _of_the_clinic(person).filter(pk=number).first()
    if found is None:
        raise NotHere("no such job in this clinic")
    return found


def recent_jobs(person: Person) -> QuerySet[Job]:
    """The clinic's latest jobs, newest first, at most ``SHOWN``."""
    require(person, "see jobs")
    return _of_the_clinic(person)[:SHOWN]


_any_failed = Prepared(
    lambda: Job.objects.filter(clinic_id=Given("clinic", IntegerField()), state=JobState.FAILED)[:1], "pk"
)


def failed_jobs(person: Person) -> QuerySet[Job]:
    """The clinic's jobs that failed and were not tried again, newest first, at most ``SHOWN``."""
    require(person, "see jobs")
    if person.clinic is not None and not _any_failed.rows(clinic=person.clinic.pk):
        return Job.objects.none()
    return _of_the_clinic(person).filter(state=JobState.FAILED)[:SHOWN]


def jobs_listed(person: Person, asked: Asked, *, state: str = "") -> Part[Job]:
    """The clinic's jobs for a program, the earliest first."""
    require(person, "see jobs")
    rows = _of_the_clinic(person)
    return part_of(rows.filter(state=state) if state else rows, asked)


def _of_the_clinic(person: Person) -> QuerySet[Job]:
    return Job.objects.filter(clinic=person.clinic).select_related("user")
