"""What is stored of a report: its frozen content and the file made of it, never altered afterwards."""

from django.db import models
from django.db.models import F, Q

from access.models import Clinic, User
from exams.visits.models import Exam
from jobs.models import Job


class Status(models.TextChoices):
    """Only a preliminary report can be made yet: nobody has reviewed and signed it."""

    PRELIMINARY = "preliminary", "PRELIMINARY: not yet reviewed by an interpreting clinician"


class Document(models.Model):
    """One report of one exam. A new report is a new row with the next number; the earlier ones stay."""

    exam = models.ForeignKey(Exam, on_delete=models.PROTECT, related_name="documents")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="documents")
    number = models.PositiveSmallIntegerField()
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    status = models.CharField(max_length=20, choices=Status, default=Status.PRELIMINARY)

    conclusion_drafted = models.TextField(blank=True)
    conclusion = models.TextField(max_length=4000)
    # reports.documents.content.ReportContent, frozen: exactly what is printed, and the findings behind it.
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)

    created_at = models.DateTimeField()
    created_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    created_as = models.CharField(max_length=24)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    pdf = models.FileField(blank=True)
    pdf_sha256 = models.CharField(max_length=64, blank=True)
    pages = models.PositiveSmallIntegerField(null=True, blank=True)
    rendered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-created_at", "-pk")
        indexes = [models.Index(fields=["clinic", "-created_at"], name="documents_of_a_clinic")]
        constraints = [
            models.UniqueConstraint(fields=["exam", "number"], name="document_number_once_per_exam"),
            models.CheckConstraint(
                condition=Q(number__gte=1) & (Q(number=1) ^ Q(supersedes__isnull=False)),
                name="document_after_the_first_replaces_one",
            ),
            models.CheckConstraint(
                condition=Q(pdf="", pdf_sha256="", pages=None, rendered_at=None)
                | (~Q(pdf="") & ~Q(pdf_sha256="") & Q(pages__gte=1, rendered_at__gte=F("created_at"))),
                name="document_file_is_whole_or_absent",
            ),
        ]

    def __str__(self) -> str:
        return f"report {self.number} of exam {self.exam_id}"

    @property
    def is_ready(self) -> bool:
        return bool(self.pdf_sha256)
