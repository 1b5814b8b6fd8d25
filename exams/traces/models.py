"""What is stored of a recording: its bytes, its samples, each suggestion and each reader's mark."""

from django.db import models
from django.db.models import Q

from exams.patients.models import Side
from exams.visits.models import Site, Technique


class Kind(models.TextChoices):
    """What shows that blood has returned."""

    REFILL = "refill", "the pulp refills"
    PULSATION = "pulsation", "pulses come back"


def kind_of(site: str, technique: str) -> Kind:
    """What a recording made there, in that way, shows: only an emptied pulp refills."""
    emptied = technique in (Technique.TWO_CUFFS, Technique.ONE_CUFF_HAND)
    return Kind.REFILL if site.startswith("toe") and emptied else Kind.PULSATION


class State(models.TextChoices):
    ARRIVED = "arrived", "needs its site or columns confirmed"
    GROWING = "growing", "arriving"
    WAITING = "waiting", "waiting to be read"
    READ = "read", "read"
    FAILED = "failed", "could not be read"


class Format(models.TextChoices):
    CSV = "csv", "CSV"
    EDF = "edf", "EDF"
    WFDB = "wfdb", "WFDB"
    PIECES = "pieces", "sent by a device"


class Verdict(models.TextChoices):
    GOOD = "good", "good"
    CAUTION = "caution", "usable with caution"
    UNREADABLE = "unreadable", "unreadable"
    REPEAT = "repeat", "repeat it"


class How(models.TextChoices):
    """How the mark came to stand where it stands."""

    ACCEPTED = "accepted", "suggestion accepted"
    MOVED = "moved", "placed by the reader"
    NONE = "none", "no mark"


class Trace(models.Model):
    """One recording of one attempt at one site. Its bytes and samples are never altered."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="traces")
    exam = models.ForeignKey("visits.Exam", on_delete=models.PROTECT, related_name="traces")
    # Empty only while nobody has confirmed which site a dropped file belongs to.
    side = models.CharField(max_length=5, choices=Side, blank=True)
    site = models.CharField(max_length=20, choices=Site, blank=True)
    attempt = models.PositiveSmallIntegerField(default=1)
    technique = models.CharField(max_length=20, choices=Technique, blank=True)
    cuff_width_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.REFILL)
    state = models.CharField(max_length=10, choices=State, default=State.ARRIVED)
    # What went wrong, or is odd about the file, in words a nurse understands; never what the file held.
    problem = models.CharField(max_length=300, blank=True)

    original = models.FileField(blank=True, max_length=200)
    original_name = models.CharField(max_length=120, blank=True)
    original_sha256 = models.CharField(max_length=64, blank=True)
    original_size = models.PositiveIntegerField(default=0)
    format = models.CharField(max_length=10, choices=Format)
    columns = models.JSONField(null=True, blank=True)

    samples = models.BinaryField(null=True, blank=True)
    samples_sha256 = models.CharField(max_length=64, blank=True)
    sample_count = models.PositiveIntegerField(null=True, blank=True)
    duration_s = models.FloatField(null=True, blank=True)
    sampling_hz = models.FloatField(null=True, blank=True)

    # Made by the sender: the same key again is the same recording.
    source_key = models.CharField(max_length=80, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["exam", "side", "site", "attempt"], name="trace_by_site"),
            models.Index(fields=["clinic", "state", "received_at"], name="trace_by_state"),
        ]
        constraints = [
            models.CheckConstraint(
                name="trace_is_of_a_known_kind_and_state",
                condition=Q(
                    kind__in=Kind.values,
                    state__in=State.values,
                    format__in=Format.values,
                    attempt__range=(1, 3),
                ),
            ),
            models.CheckConstraint(
                name="trace_has_its_site_once_it_is_read",
                condition=Q(state__in=["arrived", "failed"])
                | (Q(side__in=Side.values, site__in=Site.values, technique__in=Technique.values)),
            ),
            models.CheckConstraint(
                name="trace_that_is_read_has_samples",
                condition=~Q(state="read")
                | (Q(samples__isnull=False, sample_count__gte=0, duration_s__gte=0) & ~Q(samples_sha256="")),
            ),
            models.CheckConstraint(
                name="trace_file_has_its_checksum",
                condition=Q(original="", original_sha256="") | (~Q(original="") & ~Q(original_sha256="")),
            ),
            models.CheckConstraint(
                name="trace_that_failed_says_why", condition=~Q(state="failed") | ~Q(problem="")
            ),
            models.CheckConstraint(
                name="trace_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
            models.UniqueConstraint(
                fields=["clinic", "source_key"], condition=~Q(source_key=""), name="trace_key_once_per_clinic"
            ),
        ]

    def __str__(self):
        return f"trace {self.pk}"


class TracePiece(models.Model):
    """A part of a recording that is still being sent, in the order of its number."""

    trace = models.ForeignKey(Trace, on_delete=models.PROTECT, related_name="pieces")
    number = models.PositiveIntegerField()
    samples = models.BinaryField()
    samples_sha256 = models.CharField(max_length=64)
    sample_count = models.PositiveIntegerField()
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["trace", "number"], name="trace_piece_once"),
            models.CheckConstraint(name="trace_piece_counts_from_one", condition=Q(number__gte=1)),
        ]

    def __str__(self):
        return f"piece {self.number} of trace {self.trace_id}"


class Analysis(models.Model):
    """What one version of the reader suggests for a recording. Never changed; a new version is a new row."""

    trace = models.ForeignKey(Trace, on_delete=models.PROTECT, related_name="analyses")
    version = models.CharField(max_length=20)
    # exams.hemodynamics.TraceReading, as its to_json gave it.
    reading = models.JSONField()
    pressure_mmhg = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    low_mmhg = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    high_mmhg = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    usable = models.BooleanField()
    confidence = models.CharField(max_length=10)
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["trace", "version"], name="analysis_once_per_version"),
            models.CheckConstraint(
                name="analysis_has_a_pressure_with_its_interval",
                condition=Q(pressure_mmhg=None, low_mmhg=None, high_mmhg=None, usable=False)
                | Q(pressure_mmhg__isnull=False, low_mmhg__isnull=False, high_mmhg__isnull=False),
            ),
        ]

    def __str__(self):
        return f"analysis {self.pk}"


class ReaderMark(models.Model):
    """A reader's verdict on a recording, and where they put the mark. A later one replaces, none is lost."""

    trace = models.ForeignKey(Trace, on_delete=models.PROTECT, related_name="marks")
    analysis = models.ForeignKey(Analysis, on_delete=models.PROTECT, related_name="marks")
    verdict = models.CharField(max_length=12, choices=Verdict)
    how = models.CharField(max_length=10, choices=How)
    # Whole or half mmHg: the mark lives in mmHg.
    pressure_mmhg = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    time_s = models.FloatField(null=True, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    # Made by somebody who had not seen the suggestion or another's mark.
    blind = models.BooleanField(default=False)
    # Meant as a blind reading, by somebody who had: kept beside, never counted as one.
    had_seen = models.BooleanField(default=False)
    program_version = models.CharField(max_length=20)
    marked_at = models.DateTimeField()
    marked_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    # The reading of the exam that this mark wrote.
    reading = models.ForeignKey(
        "visits.Reading", on_delete=models.PROTECT, null=True, blank=True, related_name="trace_marks"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="mark_of_a_known_verdict",
                condition=Q(verdict__in=Verdict.values, how__in=How.values),
            ),
            models.CheckConstraint(
                name="mark_has_a_pressure_where_one_is_read",
                condition=(
                    Q(verdict__in=["good", "caution"], how__in=["accepted", "moved"])
                    & Q(pressure_mmhg__gte=1, pressure_mmhg__lte=300)
                )
                | (Q(verdict__in=["unreadable", "repeat"], how="none", pressure_mmhg=None) & ~Q(reason="")),
            ),
            models.CheckConstraint(
                name="mark_made_blind_writes_no_reading", condition=Q(blind=False) | Q(reading=None)
            ),
            models.CheckConstraint(
                name="mark_is_blind_or_had_seen", condition=Q(blind=False) | Q(had_seen=False)
            ),
        ]

    def __str__(self):
        return f"mark {self.pk}"


class TraceSeen(models.Model):
    """That the suggestion for a recording, or a mark on it, has been on a person's screen.

    The trail tells each time a page was shown; this says in one row whether a reading could still be blind.
    """

    trace = models.ForeignKey(Trace, on_delete=models.PROTECT, related_name="seen")
    person = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    first_seen_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["trace", "person"], name="trace_seen_once_a_person")]

    def __str__(self):
        return f"trace {self.trace_id} seen"
