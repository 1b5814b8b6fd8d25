"""A job in the background. This row is the truth about it; a broker's message only says "look at it"."""

from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from access import clock
from access.models import Clinic, User
from access.people import Person, person_for

# A job whose worker died this many times is not taken up again by itself.
MOST_ATTEMPTS = 3


class JobState(models.TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "running"
    DONE = "done", "done"
    FAILED = "failed", "failed"


class Job(models.Model):
    """One piece of work, asked for by one person in one clinic."""

    kind = models.CharField(max_length=60)
    # Row numbers only: a job never carries a patient's data.
    numbers = models.JSONField(default=dict)
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+", null=True)
    role = models.CharField(max_length=24, blank=True)

    state = models.CharField(max_length=8, choices=JobState.choices, default=JobState.WAITING)
    percent = models.PositiveSmallIntegerField(default=0)
    words = models.CharField(max_length=120, blank=True)
    reason = models.CharField(max_length=400, blank=True)
    result = models.JSONField(default=dict, encoder=DjangoJSONEncoder)

    attempt = models.PositiveSmallIntegerField(default=0)
    # Set anew by each worker that takes the job up, so that one thought lost cannot speak for it later.
    claim = models.CharField(max_length=32, blank=True)
    asked_at = models.DateTimeField(default=clock.now)
    sent_at = models.DateTimeField(default=clock.now)
    started_at = models.DateTimeField(null=True)
    beat_at = models.DateTimeField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-asked_at", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=models.Q(state__in=JobState.values), name="a_job_has_a_known_state"
            ),
            models.CheckConstraint(condition=models.Q(percent__lte=100), name="a_job_is_at_most_whole"),
            models.CheckConstraint(
                condition=~models.Q(state=JobState.RUNNING)
                | (~models.Q(claim="") & models.Q(beat_at__isnull=False)),
                name="a_running_job_has_a_worker",
            ),
            models.CheckConstraint(
                condition=models.Q(state=JobState.FAILED) ^ models.Q(reason=""),
                name="a_failed_job_says_why",
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=(JobState.DONE, JobState.FAILED)) ^ models.Q(ended_at=None),
                name="an_ended_job_says_when",
            ),
        )
        indexes = (
            models.Index(fields=("state", "beat_at"), name="jobs_by_state_and_beat"),
            models.Index(fields=("clinic", "-asked_at"), name="jobs_of_a_clinic"),
        )

    def __str__(self) -> str:
        return f"{self.kind} ({self.state})"

    @property
    def is_open(self) -> bool:
        return self.state in (JobState.WAITING, JobState.RUNNING)

    def person(self) -> Person:
        """The person who asked, with the rights they hold now, in the clinic they asked from."""
        return person_for(self.user, self.clinic_id)
