"""What is stored of wounds, and what is always true of it.

An episode begins when somebody without an ulcer gets one and is over when all are healed (C:S46). Nothing
said is overwritten: a wound's entries and its assessments are corrected by a new row that names the old one.
"""

from django.db import models
from django.db.models import F, Q

from exams.hemodynamics import EventDate, Finding, Precision
from exams.patients.events import PRECISIONS
from exams.patients.models import Side
from exams.wounds.codes import (
    AreaHow,
    Cause,
    DeepSign,
    Depth,
    EpisodeEnd,
    Gangrene,
    InfectionJudged,
    InfectionLooked,
    LocalSign,
    Offloading,
    Status,
    Tissue,
    Yes,
)
from exams.wounds.places import CHOICES, PLACE_OF, Place

# Larger than the whole skin of a lower leg and foot: a slip of the keyboard.
MOST_MM, MOST_MM2 = 500, 250_000


class Episode(models.Model):
    """From the first wound of somebody who had none until all are healed.

    The last columns are how it began and came out, kept by the services for one question: of feet that began
    like this one, how many had healed after 12 and 24 weeks? ``index_side`` is the foot of the index wound.
    Null in ``healed_12w`` or ``healed_24w`` is "not known (yet)".
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="wound_episodes")
    began_on = models.DateField()
    presented_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    ended_how = models.CharField(max_length=10, choices=EpisodeEnd, blank=True)
    ended_because = models.CharField(max_length=200, blank=True)
    ended_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    index_side = models.CharField(max_length=5, choices=Side)
    toe_band = models.CharField(max_length=10, blank=True)
    wound_grade = models.PositiveSmallIntegerField(null=True, blank=True)
    healed_12w = models.BooleanField(null=True, blank=True)
    healed_24w = models.BooleanField(null=True, blank=True)

    class Meta:
        verbose_name = "episode of wounds"
        verbose_name_plural = "episodes of wounds"
        indexes = [
            models.Index(fields=["patient", "ended_on"], name="episode_by_patient"),
            # Everything the question about outcomes reads, so that it is answered from the index alone.
            models.Index(
                fields=["clinic", "toe_band", "wound_grade", "healed_12w", "healed_24w"],
                name="episode_by_outcome",
            ),
        ]
        constraints = [
            models.CheckConstraint(
                name="episode_ended_says_how_and_who",
                condition=Q(ended_on=None, ended_how="", ended_because="", ended_by=None)
                | (Q(ended_on__isnull=False, ended_how__in=EpisodeEnd.values, ended_by__isnull=False)),
            ),
            models.CheckConstraint(
                name="episode_ends_after_it_begins",
                condition=Q(ended_on=None) | Q(ended_on__gte=F("began_on")),
            ),
            models.CheckConstraint(
                name="episode_presents_after_it_begins", condition=Q(presented_on__gte=F("began_on"))
            ),
            models.CheckConstraint(name="episode_has_a_side", condition=Q(index_side__in=Side.values)),
            models.CheckConstraint(
                name="episode_grade_is_of_the_scale",
                condition=Q(wound_grade=None) | Q(wound_grade__lte=3),
            ),
            models.CheckConstraint(
                name="episode_healed_early_is_healed_late",
                condition=Q(healed_12w=None) | Q(healed_12w=False) | Q(healed_24w__isnull=False),
            ),
        ]

    def __str__(self):
        return f"episode {self.pk}"

    @property
    def is_over(self) -> bool:
        return self.ended_on is not None


class Wound(models.Model):
    """One wound of an episode; what is said of it stands in its entries.

    ``fact`` is the open wound among the facts of the limb that the exams are read with.
    """

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="wounds")
    number = models.PositiveSmallIntegerField()
    fact = models.ForeignKey("patients.LimbFact", on_delete=models.PROTECT, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    withdrawn_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["episode", "number"], name="wound_number_once_an_episode"),
            models.CheckConstraint(
                name="wound_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"wound {self.pk}"

    @property
    def patient(self):
        return self.episode.patient

    @property
    def patient_id(self) -> int:
        return self.episode.patient_id


class WoundEntry(models.Model):
    """What is said of a wound: where, why, since when, and whether it is open. The newest row stands."""

    wound = models.ForeignKey(Wound, on_delete=models.PROTECT, related_name="entries")
    side = models.CharField(max_length=5, choices=Side)
    place = models.CharField(max_length=16, choices=CHOICES)
    cause = models.CharField(max_length=12, choices=Cause)
    note = models.CharField(max_length=200, blank=True)
    began_on = models.DateField()
    began_precision = models.CharField(max_length=5, choices=PRECISIONS, default="day")
    presented_on = models.DateField()
    recurrence_of = models.ForeignKey(
        Wound, on_delete=models.PROTECT, null=True, blank=True, related_name="recurrences"
    )
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    closed_on = models.DateField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["wound"], condition=Q(replaces=None), name="wound_has_one_first_entry"
            ),
            models.CheckConstraint(
                name="wound_entry_is_of_known_words",
                condition=Q(
                    side__in=Side.values,
                    place__in=list(PLACE_OF),
                    cause__in=Cause.values,
                    status__in=Status.values,
                    began_precision__in=list(dict(PRECISIONS)),
                ),
            ),
            models.CheckConstraint(
                name="wound_entry_closed_has_its_day",
                condition=Q(status=Status.OPEN, closed_on=None)
                | (~Q(status=Status.OPEN) & Q(closed_on__isnull=False, closed_on__gte=F("began_on"))),
            ),
            models.CheckConstraint(
                name="wound_entry_presents_after_it_begins", condition=Q(presented_on__gte=F("began_on"))
            ),
            models.CheckConstraint(
                name="wound_entry_replacement_says_why",
                condition=Q(replaces=None, replaced_because="")
                | (Q(replaces__isnull=False) & ~Q(replaced_because="")),
            ),
        ]

    def __str__(self):
        return f"entry {self.pk} of wound {self.wound_id}"

    @property
    def patient(self):
        return self.wound.patient

    @property
    def patient_id(self) -> int:
        return self.wound.patient_id

    @property
    def where(self) -> Place:
        return PLACE_OF[self.place]

    @property
    def words(self) -> str:
        """ "RIGHT hallux, tip or underside"."""
        return f"{Side(self.side).label} {self.where.words}"

    @property
    def dated(self) -> EventDate:
        return EventDate(self.began_on, Precision(self.began_precision))

    @property
    def is_open(self) -> bool:
        return self.status == Status.OPEN


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

    Sizes are whole mm and mm². ``area_mm2`` is typed, traced, or length × width. ``pulses``: at least one
    pulse of the foot was felt. ``feeling_lost``: of protective feeling. ``trace`` holds the points drawn on the
    photograph, in its pixels, and the length between the two points of the scale.
    """

    wound = models.ForeignKey(Wound, on_delete=models.PROTECT, related_name="assessments")
    assessed_on = models.DateField()
    length_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    width_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    area_mm2 = models.PositiveIntegerField(null=True, blank=True)
    area_how = models.CharField(max_length=10, choices=AreaHow, blank=True)
    photograph = models.ForeignKey(
        Photograph, on_delete=models.PROTECT, null=True, blank=True, related_name="assessments"
    )
    trace = models.JSONField(null=True, blank=True)
    depth = models.CharField(max_length=10, choices=Depth)
    extensive = models.BooleanField(default=False)
    gangrene = models.CharField(max_length=10, choices=Gangrene)
    tissue = models.CharField(max_length=100, blank=True)
    infection_looked = models.CharField(max_length=12, choices=InfectionLooked)
    local_signs = models.CharField(max_length=100, blank=True)
    redness_mm = models.PositiveSmallIntegerField(null=True, blank=True)
    deep_signs = models.CharField(max_length=100, blank=True)
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
                | Q(local_signs="", deep_signs="", redness_mm=None),
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
    def tissues(self) -> tuple[Tissue, ...]:
        return tuple(Tissue(one) for one in self.tissue.split())


class Grade(models.Model):
    """One grade as the core computed it at an assessment, with its inputs and source. Never changed."""

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="grades")
    measure = models.CharField(max_length=40)
    band = models.CharField(max_length=40, blank=True)
    value = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    finding = models.JSONField()
    criteria = models.CharField(max_length=60)
    criteria_version = models.CharField(max_length=20)
    computed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["assessment", "measure"], name="grade_once_an_assessment")
        ]

    def __str__(self):
        return f"grade {self.pk}"

    @property
    def said(self) -> Finding:
        return Finding.from_json(self.finding)


class BeyondSalvage(models.Model):
    """WIfI stage 5, a foot that cannot be saved: a clinician's judgement, never computed. Taken back by a row.

    ``holds`` False takes back what was said before.
    """

    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="judgements")
    side = models.CharField(max_length=5, choices=Side)
    holds = models.BooleanField()
    because = models.CharField(max_length=200)
    said_at = models.DateTimeField()
    said_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="judgement_has_side_and_reason", condition=Q(side__in=Side.values) & ~Q(because="")
            )
        ]

    def __str__(self):
        return f"judgement {self.pk}"

    @property
    def patient(self):
        return self.episode.patient

    @property
    def patient_id(self) -> int:
        return self.episode.patient_id
