"""What is stored of agreement: which exam repeats which, and the noise computed from the pairs."""

from django.db import models
from django.db.models import F, Q

from exams.hemodynamics import PAIRS_NEEDED


class AgreementRepeat(models.Model):
    """An exam that repeats an earlier one of the same person for an agreement study.

    Every cuff was taken off and laid again, on another day. A mistake is withdrawn, never deleted.
    """

    exam = models.ForeignKey("visits.Exam", on_delete=models.PROTECT, related_name="repeats")
    first = models.ForeignKey("visits.Exam", on_delete=models.PROTECT, related_name="repeated_by")
    study = models.CharField(max_length=120)
    recuffed_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="repeat_is_not_of_itself", condition=~Q(exam=F("first"))),
            models.CheckConstraint(name="repeat_names_its_study", condition=~Q(study="")),
            models.CheckConstraint(
                name="repeat_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
            # An exam stands in one pair at most: pairs that share an exam would count it twice.
            models.UniqueConstraint(
                fields=["exam"], condition=Q(withdrawn_at=None), name="repeat_once_as_second"
            ),
            models.UniqueConstraint(
                fields=["first"], condition=Q(withdrawn_at=None), name="repeat_once_as_first"
            ),
        ]

    def __str__(self):
        return f"repeat {self.pk}"


class ClinicNoise(models.Model):
    """A clinic's own noise of one measure and technique from a moment on; the newest row is in force.

    ``sd_within`` is the SD of one measurement in the unit of the measure (mmHg, or index). It is empty where
    too few pairs were left, and ``because`` says so: the published noise is then in force again.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="noises")
    measure = models.CharField(max_length=60)
    technique = models.CharField(max_length=60)
    pairs = models.PositiveIntegerField()
    sd_within = models.DecimalField(max_digits=10, decimal_places=6, null=True, blank=True)
    study = models.CharField(max_length=200, blank=True)
    because = models.CharField(max_length=200, blank=True)
    computed_at = models.DateTimeField()
    computed_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["clinic", "measure", "technique"], name="noise_by_measure")]
        constraints = [
            models.CheckConstraint(
                name="noise_is_of_enough_pairs_or_says_why_not",
                condition=(
                    Q(sd_within__isnull=False, sd_within__gt=0, pairs__gte=PAIRS_NEEDED, because="")
                    & ~Q(study="")
                )
                | (Q(sd_within=None) & ~Q(because="")),
            ),
        ]

    def __str__(self):
        return f"noise {self.pk}"
