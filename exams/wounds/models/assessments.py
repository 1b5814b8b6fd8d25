"""What was found of a wound on a day: its photograph, its assessment and the grades that follow."""

from django.db import models
from django.db.models import Q

from exams.wounds.codes import (
    AreaHow,
    DeepSign,
    Depth,
    ExplainedBy,
    Gangrene,
    InfectionJudged,
    InfectionLooked,
    LocalSign,
    Offloading,
    Tissue,
    Yes,
)
from exams.wounds.models.episodes import Wound

# Larger than the whole skin of a lower leg and foot: a slip of the keyboard.
MOST_MM, MOST_MM2 = 600, 200_000


class Photograph(models.Model):
    """A picture of a wound, drawn anew from what was sent: what the camera wrote beside it is gone."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    wound = models.ForeignKey(Wound, on_delete=models.PROTECT, related_name="photographs")
    taken_on = models.DateField()
    picture = models.FileField(max_length=200)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="photograph_has_its_checksum", condition=~Q(picture="") & ~Q(sha256="")
            ),
            models.CheckConstraint(
                name="photograph_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"photograph {self.pk}"

    @property
    def patient(self):
        return self.wound.patient

    @property
    def patient_id(self) -> int:
        return self.wound.patient_id


class Assessment(models.Model):
    """How one wound was found on one day. Lists of signs are codes with a space between them.

    Sizes are whole mm and mm²; white cells 10⁹ a litre. ``area_mm2`` is traced, or length × width.
    ``pulses``: at least one pulse of the foot was felt. ``feeling_lost``: of protective feeling. ``trace``
    holds the points drawn on the photograph, in its pixels, and the length between the points of the scale.
    """

    wound = models.ForeignKey(Wound, on_delete=models.PROTECT, related_name="assessments")
    assessed_on = models.DateField()
    length_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    width_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    area_mm2 = models.PositiveIntegerField(null=True, blank=True)
    area_how = models.CharField(max_length=20, choices=AreaHow, blank=True)
    photograph = models.ForeignKey(
        Photograph, on_delete=models.PROTECT, null=True, blank=True, related_name="assessments"
    )
    trace = models.JSONField(null=True, blank=True)
    depth = models.CharField(max_length=10, choices=Depth)
    extensive = models.CharField(max_length=10, choices=Yes, default=Yes.UNKNOWN)
    gangrene = models.CharField(max_length=10, choices=Gangrene)
    tissue = models.CharField(max_length=100, blank=True)
    infection_looked = models.CharField(max_length=12, choices=InfectionLooked)
    local_signs = models.CharField(max_length=100, blank=True)
    redness_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    deep_signs = models.CharField(max_length=100, blank=True)
    bone_infection = models.CharField(max_length=10, choices=Yes, default=Yes.UNKNOWN)
    explained_by = models.CharField(max_length=100, blank=True)
    celsius = models.DecimalField(max_digits=3, decimal_places=1, null=True, blank=True)
    heart_rate = models.PositiveSmallIntegerField(null=True, blank=True)
    breaths = models.PositiveSmallIntegerField(null=True, blank=True)
    white_cells = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    infection_judged = models.CharField(max_length=10, choices=InfectionJudged, blank=True)
    judged_because = models.CharField(max_length=200, blank=True)
    pulses = models.CharField(max_length=10, choices=Yes, default=Yes.UNKNOWN)
    feeling_lost = models.CharField(max_length=10, choices=Yes, default=Yes.UNKNOWN)
    deformity = models.CharField(max_length=10, choices=Yes, default=Yes.UNKNOWN)
    offloading = models.CharField(max_length=12, choices=Offloading)
    dressing = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=400, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["wound", "assessed_on"], name="assessment_by_wound")]
        constraints = [
            models.CheckConstraint(
                name="assessment_is_of_known_words",
                condition=Q(
                    depth__in=Depth.values,
                    gangrene__in=Gangrene.values,
                    infection_looked__in=InfectionLooked.values,
                    offloading__in=Offloading.values,
                    extensive__in=Yes.values,
                    bone_infection__in=Yes.values,
                    pulses__in=Yes.values,
                    feeling_lost__in=Yes.values,
                    deformity__in=Yes.values,
                ),
            ),
            models.CheckConstraint(
                name="assessment_sizes_are_of_a_foot",
                condition=(Q(length_mm=None) | Q(length_mm__gte=1, length_mm__lte=MOST_MM))
                & (Q(width_mm=None) | Q(width_mm__gte=1, width_mm__lte=MOST_MM))
                & (Q(area_mm2=None) | Q(area_mm2__lte=MOST_MM2)),
            ),
            models.CheckConstraint(
                name="assessment_area_says_how",
                condition=Q(area_mm2=None, area_how="")
                | Q(area_mm2__isnull=False, area_how__in=AreaHow.values),
            ),
            models.CheckConstraint(
                name="assessment_signs_only_where_looked",
                condition=Q(infection_looked=InfectionLooked.SIGNS)
                | Q(local_signs="", deep_signs="", redness_mm=None, explained_by=""),
            ),
            models.CheckConstraint(
                name="assessment_replacement_says_why",
                condition=Q(replaces=None, replaced_because="")
                | (Q(replaces__isnull=False) & ~Q(replaced_because="")),
            ),
            models.CheckConstraint(
                name="assessment_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"assessment {self.pk}"

    @property
    def patient(self):
        return self.wound.patient

    @property
    def patient_id(self) -> int:
        return self.wound.patient_id

    @property
    def signs(self) -> tuple[LocalSign, ...]:
        return tuple(LocalSign(one) for one in self.local_signs.split())

    @property
    def deep(self) -> tuple[DeepSign, ...]:
        return tuple(DeepSign(one) for one in self.deep_signs.split())

    @property
    def explanations(self) -> tuple[ExplainedBy, ...]:
        return tuple(ExplainedBy(one) for one in self.explained_by.split())

    @property
    def tissues(self) -> tuple[Tissue, ...]:
        return tuple(Tissue(one) for one in self.tissue.split())


class Grade(models.Model):
    """One grade as the core computed it at an assessment, with facts, source and what is missing.

    Never changed. ``measure`` is the core's scheme, or "stage" of the limb. ``value`` is None where the grade
    is not stated.
    """

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="grades")
    measure = models.CharField(max_length=40)
    value = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    graded = models.JSONField()
    criteria = models.CharField(max_length=60)
    criteria_version = models.CharField(max_length=20)
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["assessment", "measure"], name="grade_once_an_assessment")
        ]

    def __str__(self):
        return f"grade {self.pk}"
