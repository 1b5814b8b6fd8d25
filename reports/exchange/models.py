"""What is stored of a table that comes in: the file, what is said of it, its problems, what came of it."""

from django.db import models
from django.db.models import Q


class BatchState(models.TextChoices):
    ARRIVED = "arrived", "columns to be named"
    CHECKING = "checking", "being checked"
    CHECKED = "checked", "checked, nothing taken in yet"
    IMPORTING = "importing", "being taken in"
    IMPORTED = "imported", "taken in"
    TAKING_BACK = "taking_back", "being taken back"
    TAKEN_BACK = "taken_back", "taken back"


# While a job works on a batch, nothing of it may be changed.
BUSY = (BatchState.CHECKING, BatchState.IMPORTING, BatchState.TAKING_BACK)


class Batch(models.Model):
    """One file that was sent, from arriving to taken in, or taken back."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="batches")
    state = models.CharField(max_length=12, choices=BatchState, default=BatchState.ARRIVED)
    file_name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    profile = models.JSONField()
    # Which sheet and which row names the columns, and how text was read.
    sheet = models.CharField(max_length=60, blank=True)
    heading_row = models.PositiveIntegerField(default=1)
    mapping = models.JSONField(null=True, blank=True)
    counts = models.JSONField(default=dict, blank=True)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    received_at = models.DateTimeField()
    received_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    checked_at = models.DateTimeField(null=True, blank=True)
    # What the pieces kept ready were made from; "" where there are none.
    ready_for = models.CharField(max_length=64, blank=True)
    # What the person agreed to when the table was taken in.
    new_people_agreed = models.BooleanField(default=False)
    imported_at = models.DateTimeField(null=True, blank=True)
    imported_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_because = models.CharField(max_length=200, blank=True)

    class Meta:
        verbose_name = "table taken in"
        verbose_name_plural = "tables taken in"
        indexes = [models.Index(fields=["clinic", "-received_at"], name="batch_by_day")]
        constraints = [
            models.CheckConstraint(name="batch_has_a_known_state", condition=Q(state__in=BatchState.values)),
            models.CheckConstraint(
                name="batch_taken_in_says_when_and_who",
                condition=~Q(state__in=["imported", "taking_back", "taken_back"])
                | Q(imported_at__isnull=False, imported_by__isnull=False),
            ),
            models.CheckConstraint(
                name="batch_taken_back_says_when_who_and_why",
                condition=~Q(state="taken_back")
                | (Q(taken_back_at__isnull=False, taken_back_by__isnull=False) & ~Q(taken_back_because="")),
            ),
            # The same file twice would record every exam twice.
            models.UniqueConstraint(
                fields=["clinic", "sha256"],
                condition=Q(state__in=["importing", "imported", "taking_back"]),
                name="batch_of_one_file_taken_in_once",
            ),
        ]

    def __str__(self):
        return f"batch {self.pk}"


class BatchFile(models.Model):
    """The bytes as they were sent: what an imported exam was read from. Kept beside, never listed."""

    batch = models.OneToOneField(Batch, on_delete=models.PROTECT, related_name="file")
    content = models.BinaryField()

    def __str__(self):
        return f"file of batch {self.batch_id}"


class ReadyPiece(models.Model):
    """Some exams of a checked table with their findings, packed: kept until the table is taken in."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="ready")
    number = models.PositiveIntegerField()
    content = models.BinaryField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["batch", "number"], name="ready_piece_stands_once_in_its_order")
        ]

    def __str__(self):
        return f"ready piece {self.pk}"


class Issue(models.Model):
    """One problem that the check found; made anew by each check."""

    batch = models.ForeignKey(Batch, on_delete=models.CASCADE, related_name="issues")
    row = models.PositiveIntegerField()
    column = models.CharField(max_length=80, blank=True)
    value = models.CharField(max_length=80, blank=True)
    reason = models.CharField(max_length=300)
    suggestion = models.CharField(max_length=300, blank=True)
    grave = models.BooleanField()

    class Meta:
        indexes = [models.Index(fields=["batch", "grave", "row"], name="issue_by_row")]
        constraints = [models.CheckConstraint(name="issue_says_why", condition=~Q(reason=""))]

    def __str__(self):
        return f"issue {self.pk}"


class ImportedExam(models.Model):
    """An exam that a batch brought, and the row it stood in."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="exams")
    exam = models.OneToOneField("visits.Exam", on_delete=models.PROTECT, related_name="came_with")
    row = models.PositiveIntegerField()
    readings = models.PositiveSmallIntegerField()

    def __str__(self):
        return f"imported exam {self.pk}"


class ImportedPatient(models.Model):
    """A person whom a batch registered, and the row they first stood in."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="people")
    # A number and no foreign key: when two records are merged, this stays with the one that was registered.
    patient_number = models.BigIntegerField(unique=True)
    row = models.PositiveIntegerField()

    def __str__(self):
        return f"imported patient {self.pk}"


class MappingTemplate(models.Model):
    """Headings of a clinic's tables and what they hold, kept for the next table of the same kind."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=80)
    columns = models.JSONField()
    options = models.JSONField()
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "name"], name="template_named_once_a_clinic"),
            models.CheckConstraint(name="template_has_a_name", condition=~Q(name="")),
        ]

    def __str__(self):
        return f"template {self.pk}"
