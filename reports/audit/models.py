"""What is stored of the audit: its rules, what was counted, what was printed, and what left the house."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from access.models import Clinic, User
from jobs.models import Job
from reports.audit.calendar import Span

# Of the national rule 1 to 7 are hidden and the rest rounded to 5 (workflow.md 5.2).
THRESHOLD, BASE, LEAST_ALIKE, YEAR_STARTS_IN = 7, 5, 5, 4


class Rules(models.Model):
    """The service's rules of counting and of small numbers; the newest row stands, none is changed."""

    year_starts_in = models.PositiveSmallIntegerField(
        default=YEAR_STARTS_IN, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    threshold = models.PositiveSmallIntegerField(
        default=THRESHOLD, validators=[MinValueValidator(5), MaxValueValidator(20)]
    )
    base = models.PositiveSmallIntegerField(
        default=BASE, validators=[MinValueValidator(5), MaxValueValidator(10)]
    )
    least_alike = models.PositiveSmallIntegerField(
        default=LEAST_ALIKE, validators=[MinValueValidator(3), MaxValueValidator(50)]
    )
    because = models.CharField(max_length=200)
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name = verbose_name_plural = "rules of the audit"
        constraints = (
            models.CheckConstraint(
                name="audit_rules_protect",
                condition=Q(threshold__range=(5, 20), base__range=(5, 10), least_alike__range=(3, 50))
                & Q(year_starts_in__range=(1, 12))
                & ~Q(because=""),
            ),
        )

    def __str__(self) -> str:
        return f"rules of the audit {self.pk}"


class Holiday(models.Model):
    """A day on which the clinic does not work, beside Saturdays and Sundays."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="holidays")
    day = models.DateField()
    words = models.CharField(max_length=80)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("day",)
        constraints = (models.UniqueConstraint(fields=("clinic", "day"), name="holiday_once_a_clinic"),)

    def __str__(self) -> str:
        return f"holiday {self.pk}"


class Choice(models.Model):
    """Which measures a clinic sees first, by id; the newest row stands."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="chosen_measures")
    measures = models.JSONField()
    chosen_at = models.DateTimeField()
    chosen_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"choice of measures {self.pk}"


class Count(models.Model):
    """One counting of one audit year, of all clinics. Pages show the newest that is whole."""

    year_first = models.DateField()
    # With what it was counted, so that a printed figure can be made again.
    software = models.CharField(max_length=40)
    threshold = models.PositiveSmallIntegerField()
    base = models.PositiveSmallIntegerField()
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+")
    counted_at = models.DateTimeField(null=True, blank=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        indexes = (models.Index(fields=("year_first", "-counted_at"), name="count_newest"),)

    def __str__(self) -> str:
        return f"count {self.pk}"


class Figure(models.Model):
    """One measure in one period of one clinic, or of all clinics together where ``clinic`` is empty.

    The exact figures are for people who care for that clinic's patients; ``*_hidden`` say what everybody else
    must not see, decided over the whole count at once (`disclosure.py`).
    """

    # Replaced together by a newer count; a printed one is held by its report.
    tally = models.ForeignKey(Count, on_delete=models.CASCADE, related_name="figures")
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    measure = models.CharField(max_length=8)
    version = models.PositiveSmallIntegerField()
    span = models.CharField(max_length=8, choices=[(span.value, span.value) for span in Span])
    first = models.DateField()
    code = models.CharField(max_length=40, blank=True)

    met = models.PositiveIntegerField()
    of = models.PositiveIntegerField()
    unknown = models.PositiveIntegerField()
    people = models.PositiveIntegerField()
    deff = models.FloatField(default=1.0)
    # Quartiles, or for a difference mean, lower and upper limit of agreement; in the measure's unit.
    low_value = models.FloatField(null=True, blank=True)
    middle_value = models.FloatField(null=True, blank=True)
    high_value = models.FloatField(null=True, blank=True)
    # Limit (as text) to how many values lie within it.
    within = models.JSONField(default=dict, blank=True)

    met_hidden = models.BooleanField(default=False)
    of_hidden = models.BooleanField(default=False)
    unknown_hidden = models.BooleanField(default=False)
    value_hidden = models.BooleanField(default=False)

    class Meta:
        constraints = (
            models.CheckConstraint(name="figure_part_of_its_whole", condition=Q(met__lte=F("of"))),
            models.CheckConstraint(name="figure_widens", condition=Q(deff__gte=1)),
            models.CheckConstraint(
                name="figure_of_a_known_span", condition=Q(span__in=[one.value for one in Span])
            ),
        )
        indexes = (
            models.Index(fields=("tally", "measure", "span", "first"), name="figure_of_a_measure"),
            models.Index(fields=("tally", "span", "first"), name="figure_of_a_period"),
        )

    def __str__(self) -> str:
        return f"figure {self.pk}"


class QuarterReport(models.Model):
    """A quarter in print: frozen content and the file made of it."""

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="quarter_reports")
    quarter_first = models.DateField()
    # Which figures: the count they come from stays as long as the report.
    tally = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="reports")
    # Exact figures only where the person who made it cares for the clinic's patients.
    exact = models.BooleanField()
    content = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pdf = models.FileField(blank=True)
    pdf_sha256 = models.CharField(max_length=64, blank=True)

    class Meta:
        ordering = ("-made_at", "-pk")
        constraints = (
            models.CheckConstraint(
                name="quarter_report_file_is_whole_or_absent",
                condition=Q(pdf="", pdf_sha256="") | (~Q(pdf="") & ~Q(pdf_sha256="")),
            ),
        )

    def __str__(self) -> str:
        return f"quarter report {self.pk}"


class Form(models.TextChoices):
    CSV = "csv", "CSV"
    XLSX = "xlsx", "spreadsheet (XLSX)"
    PARQUET = "parquet", "Parquet"


class Export(models.Model):
    """A file that leaves the house: rounded sums, pseudonymised rows, or rows with names.

    Rows need a request: a purpose, a legal basis, a second person's word, an end, and a link used once that
    opens them for minutes only.
    """

    class Holds(models.TextChoices):
        SUMS = "sums", "rounded sums"
        ROWS = "rows", "pseudonymised rows"
        NAMED = "named", "rows with names"

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="exports")
    holds = models.CharField(max_length=5, choices=Holds)
    form = models.CharField(max_length=8, choices=Form)
    year_first = models.DateField()
    tally = models.ForeignKey(Count, on_delete=models.PROTECT, null=True, blank=True, related_name="exports")
    purpose = models.CharField(max_length=400, blank=True)
    legal_basis = models.CharField(max_length=200, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    expires_at = models.DateTimeField()
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    approved = models.BooleanField(null=True, blank=True)
    decided_because = models.CharField(max_length=300, blank=True)
    # With the service's secret it makes the key of this export alone; without the secret it opens nothing.
    salt = models.CharField(max_length=64, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    file = models.FileField(blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    rows = models.PositiveIntegerField(null=True, blank=True)
    # What was hidden, generalised or left out, in counts that are themselves safe to tell.
    log = models.JSONField(default=dict, blank=True)
    link_hash = models.CharField(max_length=64, blank=True)
    link_until = models.DateTimeField(null=True, blank=True)
    downloaded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-asked_at", "-pk")
        constraints = (
            models.CheckConstraint(
                name="export_of_rows_says_what_for",
                condition=Q(holds="sums") | (~Q(purpose="") & ~Q(legal_basis="") & ~Q(salt="")),
            ),
            models.CheckConstraint(
                name="export_is_decided_by_a_second_person",
                condition=Q(decided_at=None, decided_by=None, approved=None)
                | (
                    Q(decided_at__isnull=False, decided_by__isnull=False, approved__isnull=False)
                    & ~Q(decided_by=F("asked_by"))
                ),
            ),
            models.CheckConstraint(
                name="export_of_rows_has_a_file_only_if_approved",
                condition=Q(holds="sums") | Q(file="") | Q(approved=True),
            ),
            models.CheckConstraint(
                name="export_file_is_whole_or_absent",
                condition=Q(file="", sha256="") | (~Q(file="") & ~Q(sha256="")),
            ),
            models.CheckConstraint(
                name="export_link_has_an_end",
                condition=Q(link_hash="", link_until=None) | (~Q(link_hash="") & Q(link_until__isnull=False)),
            ),
            models.CheckConstraint(
                name="export_ends_after_it_was_asked", condition=Q(expires_at__gt=F("asked_at"))
            ),
        )

    def __str__(self) -> str:
        return f"export {self.pk}"

    @property
    def is_ready(self) -> bool:
        return bool(self.sha256)

    @property
    def has_rows(self) -> bool:
        return self.holds != self.Holds.SUMS


class CriteriaDraft(models.Model):
    """The criteria a clinic reads by with one limit moved: tried, and approved or refused by a second person.

    ``text`` is a whole file of criteria. ``outcome`` is what the last exams would read by it
    (`queries.what_if.Outcome`), empty until they were read.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="criteria_drafts")
    base_name = models.CharField(max_length=60)
    base_version = models.CharField(max_length=20)
    words = models.CharField(max_length=200)
    moved_to = models.CharField(max_length=40)
    last = models.PositiveSmallIntegerField()
    text = models.TextField()
    content_sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.JSONField(null=True, blank=True)
    asked_at = models.DateTimeField(null=True, blank=True)
    asked_because = models.CharField(max_length=300, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    approved = models.BooleanField(null=True, blank=True)
    decided_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("-made_at", "-pk")
        constraints = (
            models.CheckConstraint(
                name="draft_is_tried_before_it_is_sent",
                condition=Q(asked_at=None, asked_because="")
                | (Q(asked_at__isnull=False, outcome__isnull=False) & ~Q(asked_because="")),
            ),
            models.CheckConstraint(
                name="draft_is_decided_by_a_second_person",
                condition=Q(decided_at=None, decided_by=None, approved=None, decided_because="")
                | (
                    Q(asked_at__isnull=False, decided_at__isnull=False, decided_by__isnull=False)
                    & Q(approved__isnull=False)
                    & ~Q(decided_because="")
                    & ~Q(decided_by=F("made_by"))
                ),
            ),
        )

    def __str__(self) -> str:
        return f"draft criteria {self.pk}"
