"""A person whose record a clinic holds, and the numbers given to them."""

from datetime import date

from django.db import models
from django.db.models import F, Q


class Answer(models.TextChoices):
    """Yes, no or unknown: unknown is never read as no."""

    YES = "yes", "yes"
    NO = "no", "no"
    UNKNOWN = "unknown", "unknown"


class Sex(models.TextChoices):
    FEMALE = "female", "female"
    MALE = "male", "male"
    OTHER = "other", "other"
    UNKNOWN = "unknown", "unknown"


class Tobacco(models.TextChoices):
    NEVER = "never", "never"
    STOPPED = "stopped", "stopped"
    CURRENT = "current", "current"
    UNKNOWN = "unknown", "unknown"


EARLIEST_BIRTH = date(1900, 1, 1)


class Patient(models.Model):
    """A person whose record the clinic holds.

    The last three columns are the same facts as they are compared (``matching.py``); the services fill them.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="patients")
    family_name = models.CharField(max_length=80)
    given_name = models.CharField(max_length=80)
    birth_date = models.DateField()
    sex = models.CharField(max_length=10, choices=Sex)
    telephone = models.CharField(max_length=40, blank=True)
    address = models.TextField(max_length=400, blank=True)
    referrer = models.CharField(max_length=160, blank=True)
    died_on = models.DateField(null=True, blank=True)
    diabetes = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    kidney_disease = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    neuropathy = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    tobacco = models.CharField(max_length=10, choices=Tobacco, default=Tobacco.UNKNOWN)
    # The record of the same person that took this one over; this one stays, and leads there.
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged_here"
    )
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    # Names and identifiers without accents, case and punctuation: one column to search on both databases.
    search_text = models.TextField(editable=False)
    name_key = models.CharField(max_length=200, editable=False)
    telephone_key = models.CharField(max_length=9, blank=True, editable=False)

    class Meta:
        indexes = [
            models.Index(fields=["clinic", "family_name", "given_name"], name="patient_by_name"),
            models.Index(fields=["clinic", "birth_date"], name="patient_by_birth"),
            models.Index(fields=["clinic", "name_key"], name="patient_by_name_key"),
            models.Index(fields=["clinic", "telephone_key"], name="patient_by_telephone"),
        ]
        constraints = [
            models.CheckConstraint(
                name="patient_has_a_name",
                condition=~Q(family_name="") & ~Q(given_name=""),
            ),
            models.CheckConstraint(
                name="patient_is_not_merged_into_itself",
                condition=Q(merged_into=None) | ~Q(merged_into=F("pk")),
            ),
            models.CheckConstraint(
                name="patient_born_since_1900",
                condition=Q(birth_date__gte=EARLIEST_BIRTH),
            ),
            models.CheckConstraint(
                name="patient_died_after_birth",
                condition=Q(died_on=None) | Q(died_on__gte=F("birth_date")),
            ),
            models.CheckConstraint(
                name="patient_answers_are_known_words",
                condition=Q(
                    sex__in=Sex.values,
                    diabetes__in=Answer.values,
                    kidney_disease__in=Answer.values,
                    neuropathy__in=Answer.values,
                    tobacco__in=Tobacco.values,
                ),
            ),
        ]

    def __str__(self):
        # No name here: this text may reach a log.
        return f"patient {self.pk}"

    @property
    def full_name(self) -> str:
        return f"{self.given_name} {self.family_name}"

    @property
    def identifiers_in_use(self) -> "list[Identifier]":
        """Identifiers that were not withdrawn, in the order given; prefetched ones cost no query."""
        return [one for one in self.identifiers.all() if one.withdrawn_at is None]


class Identifier(models.Model):
    """A number given to a person by an issuer; as compared, unique within issuer and clinic.

    A mistyped one is withdrawn with a reason, never deleted: letters may carry it.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="identifiers")
    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    issuer = models.CharField(max_length=80)
    value = models.CharField(max_length=60)
    # Typed with spaces, hyphens or small letters it is the same identifier.
    issuer_key = models.CharField(max_length=200, editable=False)
    value_key = models.CharField(max_length=200, editable=False)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)

    class Meta:
        # By value alone: one number may have been given out under two spellings of its issuer.
        indexes = [models.Index(fields=["clinic", "value_key"], name="identifier_by_value")]
        constraints = [
            models.UniqueConstraint(
                fields=["clinic", "issuer_key", "value_key"],
                condition=Q(withdrawn_at=None),
                name="identifier_once_per_issuer",
            ),
            models.CheckConstraint(
                name="identifier_can_be_compared",
                condition=~Q(issuer_key="") & ~Q(value_key=""),
            ),
            models.CheckConstraint(
                name="identifier_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"identifier {self.pk}"
