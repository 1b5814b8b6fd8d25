"""What is stored of a person and their limbs, and what is always true of it."""

from django.db import models
from django.db.models import F, Q


class Answer(models.TextChoices):
    """Yes, no or unknown: unknown is never read as no."""

    YES = "yes", "yes"
    NO = "no", "no"
    UNKNOWN = "unknown", "unknown"


class Side(models.TextChoices):
    RIGHT = "right", "RIGHT"
    LEFT = "left", "LEFT"


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


class Patient(models.Model):
    """A person whose record the clinic holds."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="patients")
    family_name = models.CharField(max_length=80)
    given_name = models.CharField(max_length=80)
    birth_date = models.DateField()
    sex = models.CharField(max_length=10, choices=Sex)
    telephone = models.CharField(max_length=40, blank=True)
    address = models.TextField(max_length=400, blank=True)
    referrer = models.CharField(max_length=160, blank=True)
    diabetes = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    kidney_disease = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    neuropathy = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    tobacco = models.CharField(max_length=10, choices=Tobacco, default=Tobacco.UNKNOWN)
    # Names, identifiers and birth date without accents and case: one column to search on both databases.
    search_text = models.TextField(editable=False, db_index=False)
    revision = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["clinic", "family_name", "given_name"], name="patient_by_name"),
            models.Index(fields=["clinic", "birth_date"], name="patient_by_birth"),
        ]

    def __str__(self):
        return f"patient {self.pk}"


class Identifier(models.Model):
    """A number given to a person by an issuer, unique within issuer and clinic."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="identifiers")
    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    issuer = models.CharField(max_length=80)
    value = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["clinic", "issuer", "value"], name="identifier_once_per_issuer"),
        ]


class CautionKind(models.TextChoices):
    """Why a cuff may harm (clinical.md section 6; workflow.md 2.3)."""

    FISTULA = "fistula", "dialysis fistula or graft"
    NODE_CLEARANCE = "node_clearance", "breast surgery or lymph-node clearance"
    LYMPHOEDEMA = "lymphoedema", "lymphoedema"
    ARM_LINE = "arm_line", "line in the arm"
    CLOT = "clot", "suspected or recent clot in a vein"
    BYPASS_GRAFT = "bypass_graft", "bypass graft under or near the cuff"
    STENT = "stent", "recent stent under the cuff"
    WOUND = "wound", "open wound under the cuff"
    FRACTURE = "fracture", "fracture, cast or brace"
    FRAGILE_SKIN = "fragile_skin", "fragile skin"
    PAIN = "pain", "severe pain under a cuff"
    ISOLATION = "isolation", "isolation: cuffs for this person only"
    OTHER = "other", "other (say what)"


class Region(models.TextChoices):
    """Where on the side the caution holds."""

    ARM = "arm", "arm"
    ANKLE = "ankle", "ankle and calf"
    TOES = "toes", "toes"
    WHOLE_LEG = "leg", "whole leg"


class Caution(models.Model):
    """A reason not to inflate a cuff, or to take care, at one region of one side."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="cautions")
    side = models.CharField(max_length=5, choices=Side)
    region = models.CharField(max_length=10, choices=Region)
    kind = models.CharField(max_length=20, choices=CautionKind)
    do_not_inflate = models.BooleanField()
    note = models.CharField(max_length=200, blank=True)
    source = models.CharField(max_length=120)
    started_on = models.DateField(null=True, blank=True)
    review_on = models.DateField(null=True, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)
    ended_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="caution_ends_after_it_starts",
                condition=Q(ended_on=None) | Q(started_on=None) | Q(ended_on__gte=F("started_on")),
            ),
        ]


class FactKind(models.TextChoices):
    OPEN_WOUND = "open_wound", "open wound"
    REST_PAIN = "rest_pain", "rest pain"
    FOOT_INFECTION = "foot_infection", "foot infection"
    TOE_ABSENT = "toe_absent", "toe amputated or absent"


class LimbFact(models.Model):
    """A dated fact of a limb that changes what a pressure means.

    Never altered: a correction is a new row that names the row it replaces.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="limb_facts")
    side = models.CharField(max_length=5, choices=Side)
    kind = models.CharField(max_length=20, choices=FactKind)
    toe = models.PositiveSmallIntegerField(null=True, blank=True)
    started_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    source = models.CharField(max_length=120)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="fact_ends_after_it_starts",
                condition=Q(ended_on=None) | Q(ended_on__gte=F("started_on")),
            ),
            models.CheckConstraint(
                name="fact_names_a_toe_only_when_a_toe_is_absent",
                condition=(Q(kind="toe_absent") & Q(toe__gte=1, toe__lte=5))
                | (~Q(kind="toe_absent") & Q(toe=None)),
            ),
            models.CheckConstraint(
                name="fact_replacement_says_why",
                condition=Q(replaces=None) | ~Q(replaced_because=""),
            ),
        ]
