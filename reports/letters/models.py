"""What is stored of a referral's letter: its frozen content and the file made of it, never altered."""

from django.db import models
from django.db.models import F, Q

from access.models import Clinic, User
from exams.followup.models import ReferralStep
from jobs.models import Job


class ReferralLetter(models.Model):
    """The letter of one sending of a referral. Sent again, it has another step and so another letter."""

    # One sending, one letter, whatever is killed in between.
    step = models.OneToOneField(ReferralStep, on_delete=models.PROTECT, related_name="letter")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="referral_letters")
    # reports.letters.content.LetterContent, frozen: exactly what is printed.
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    pdf = models.FileField(blank=True)
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    pages = models.PositiveSmallIntegerField(null=True, blank=True)
    rendered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pdf="", pdf_sha256="", pages=None, rendered_at=None)
                | (~Q(pdf="") & ~Q(pdf_sha256="") & Q(pages__gte=1, rendered_at__gte=F("created_at"))),
                name="letter_file_is_whole_or_absent",
            ),
        ]

    def __str__(self) -> str:
        return f"letter {self.pk} of a referral"

    @property
    def is_ready(self) -> bool:
        return bool(self.pdf_sha256)

    @property
    def patient_id(self) -> int:
        return self.step.referral.patient_id
