"""What is stored of a person and their limbs, and what is always true of it."""

from datetime import date

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
    diabetes = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    kidney_disease = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    neuropathy = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    tobacco = models.CharField(max_length=10, choices=Tobacco, default=Tobacco.UNKNOWN)
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
                name="patient_born_since_1900",
                condition=Q(birth_date__gte=EARLIEST_BIRTH),
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
    WHOLE_PERSON = "person", "whole person"


class Caution(models.Model):
    """A reason not to inflate a cuff, or to take care, at one region of one side.

    Only isolation concerns the whole person; it has no side and never forbids a cuff.
    What is said of it never changes: one that was wrong is ended, and another one added.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="cautions")
    side = models.CharField(max_length=5, choices=Side, blank=True)
    region = models.CharField(max_length=10, choices=Region)
    kind = models.CharField(max_length=20, choices=CautionKind)
    do_not_inflate = models.BooleanField()
    note = models.CharField(max_length=200, blank=True)
    source = models.CharField(max_length=120)
    started_on = models.DateField(null=True, blank=True)
    review_on = models.DateField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
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
                name="caution_stands_at_a_place",
                condition=(
                    Q(side__in=Side.values)
                    & Q(region__in=[Region.ARM, Region.ANKLE, Region.TOES, Region.WHOLE_LEG])
                    & ~Q(kind=CautionKind.ISOLATION)
                )
                | Q(side="", region=Region.WHOLE_PERSON, kind=CautionKind.ISOLATION, do_not_inflate=False),
            ),
            models.CheckConstraint(
                name="caution_ends_after_it_starts",
                condition=Q(ended_on=None) | Q(started_on=None) | Q(ended_on__gte=F("started_on")),
            ),
            models.CheckConstraint(
                name="caution_ended_says_who_and_why",
                condition=Q(ended_on=None, ended_by=None, ended_reason="")
                | (Q(ended_on__isnull=False, ended_by__isnull=False) & ~Q(ended_reason="")),
            ),
            models.CheckConstraint(name="caution_names_its_source", condition=~Q(source="")),
            models.CheckConstraint(
                name="caution_of_another_kind_says_what",
                condition=~Q(kind=CautionKind.OTHER) | ~Q(note=""),
            ),
        ]

    def __str__(self):
        return f"caution {self.pk}"

    def in_force_on(self, day: date) -> bool:
        """Begun by ``day`` and not ended by then. A review date that has passed ends nothing."""
        return (self.started_on is None or self.started_on <= day) and (
            self.ended_on is None or self.ended_on > day
        )

    @property
    def place(self) -> str:
        """Where it holds: "RIGHT arm", "whole person"."""
        region = str(Region(self.region).label)
        return f"{Side(self.side).label} {region}" if self.side else region

    @property
    def words(self) -> str:
        """The whole caution in one line: "Do not inflate RIGHT arm: dialysis fistula or graft"."""
        what = self.note if self.kind == CautionKind.OTHER else str(CautionKind(self.kind).label)
        return f"{'Do not inflate' if self.do_not_inflate else 'Caution'} {self.place}: {what}"


class FactKind(models.TextChoices):
    OPEN_WOUND = "open_wound", "open wound"
    REST_PAIN = "rest_pain", "rest pain"
    FOOT_INFECTION = "foot_infection", "foot infection"
    TOE_ABSENT = "toe_absent", "toe amputated or absent"


class Toe(models.IntegerChoices):
    HALLUX = 1, "hallux"
    SECOND = 2, "second toe"
    THIRD = 3, "third toe"
    FOURTH = 4, "fourth toe"
    FIFTH = 5, "fifth toe"


class LimbFact(models.Model):
    """A dated fact of a limb that changes what a pressure means.

    Never altered: a correction is a new row that names the row it replaces, and a fact that never was is
    withdrawn. Only the end, empty at first, is filled in once.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="limb_facts")
    side = models.CharField(max_length=5, choices=Side)
    kind = models.CharField(max_length=20, choices=FactKind)
    toe = models.PositiveSmallIntegerField(null=True, blank=True)
    started_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)
    ended_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    source = models.CharField(max_length=120)
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
        constraints = [
            models.CheckConstraint(
                name="fact_is_of_a_known_kind_and_side",
                condition=Q(side__in=Side.values, kind__in=FactKind.values),
            ),
            models.CheckConstraint(
                name="fact_ends_after_it_starts",
                condition=Q(ended_on=None) | Q(ended_on__gte=F("started_on")),
            ),
            models.CheckConstraint(
                name="fact_ended_says_who_and_why",
                condition=Q(ended_on=None, ended_by=None, ended_reason="")
                | (Q(ended_on__isnull=False, ended_by__isnull=False) & ~Q(ended_reason="")),
            ),
            models.CheckConstraint(
                name="fact_names_a_toe_only_when_a_toe_is_absent",
                # "Is not null" is said apart: a database lets a check pass that it cannot decide.
                condition=(Q(kind=FactKind.TOE_ABSENT) & Q(toe__isnull=False, toe__gte=1, toe__lte=5))
                | (~Q(kind=FactKind.TOE_ABSENT) & Q(toe=None)),
            ),
            # A toe that is gone does not come back; a slip is corrected or withdrawn.
            models.CheckConstraint(
                name="fact_of_an_absent_toe_has_no_end",
                condition=~Q(kind=FactKind.TOE_ABSENT) | Q(ended_on=None),
            ),
            models.CheckConstraint(name="fact_names_its_source", condition=~Q(source="")),
            models.CheckConstraint(
                name="fact_replacement_says_why",
                condition=Q(replaces=None, replaced_because="")
                | (Q(replaces__isnull=False) & ~Q(replaced_because="")),
            ),
            models.CheckConstraint(
                name="fact_withdrawn_says_who_and_why",
                condition=Q(withdrawn_at=None, withdrawn_by=None, withdrawn_because="")
                | (Q(withdrawn_at__isnull=False, withdrawn_by__isnull=False) & ~Q(withdrawn_because="")),
            ),
        ]

    def __str__(self):
        return f"limb fact {self.pk}"

    @property
    def stands(self) -> bool:
        """Neither withdrawn nor replaced by a correction."""
        return self.withdrawn_at is None and not hasattr(self, "replaced_by")

    def holds_on(self, day: date) -> bool:
        """From the day it started up to, but not on, the day it ended."""
        return self.started_on <= day and (self.ended_on is None or self.ended_on > day)

    @property
    def words(self) -> str:
        """The fact without its side: "open wound", "hallux amputated or absent"."""
        if self.kind == FactKind.TOE_ABSENT and self.toe:
            return f"{Toe(self.toe).label} amputated or absent"
        return str(FactKind(self.kind).label)
