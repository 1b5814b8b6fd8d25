"""What is stored of a person and their limbs, and what is always true of it."""

from datetime import date

from django.db import models
from django.db.models import F, Q

from exams.hemodynamics import (
    AmputationLevel,
    Approach,
    Device,
    EventDate,
    EventKind,
    InfectionGrade,
    LimbEvent,
    Precision,
    Vessel,
)
from exams.hemodynamics import Side as CoreSide
from exams.patients.events import (
    APPROACHES,
    DEVICES,
    DONE_ONCE,
    GRADES,
    LEVELS,
    OF_ONE_TOE,
    OF_THE_PERSON,
    PRECISIONS,
    FactKind,
    Toe,
)


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
    died_on = models.DateField(null=True, blank=True)
    diabetes = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    kidney_disease = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    neuropathy = models.CharField(max_length=10, choices=Answer, default=Answer.UNKNOWN)
    tobacco = models.CharField(max_length=10, choices=Tobacco, default=Tobacco.UNKNOWN)
    # The record of the same person that took this one over; this one stays, and leads there.
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged_here"
    )
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
                name="patient_is_not_merged_into_itself",
                condition=Q(merged_into=None) | ~Q(merged_into=F("pk")),
            ),
            models.CheckConstraint(
                name="patient_born_since_1900",
                condition=Q(birth_date__gte=EARLIEST_BIRTH),
            ),
            models.CheckConstraint(
                name="patient_died_after_birth",
                condition=Q(died_on=None) | Q(died_on__gte=F("birth_date")),
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
        # By value alone: one number may have been given out under two spellings of its issuer.
        indexes = [models.Index(fields=["clinic", "value_key"], name="identifier_by_value")]
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


class LimbFact(models.Model):
    """A dated fact of a limb, or event in its life, that changes what a pressure means.

    A dialysis or an irregular heart rhythm is of the whole person and has no side. ``started_on`` is the
    first day it may have begun; ``started_precision`` says how exactly that is known.

    Never altered: a correction is a new row that names the row it replaces, and a fact that never was is
    withdrawn. Only the end, empty at first, is filled in once.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="limb_facts")
    side = models.CharField(max_length=5, choices=Side, blank=True)
    kind = models.CharField(max_length=20, choices=FactKind)
    # Of an amputation: where; and which toe, where one was taken off alone or with its ray.
    level = models.CharField(max_length=20, choices=LEVELS, blank=True)
    toe = models.PositiveSmallIntegerField(null=True, blank=True)
    # Of a revascularisation; vessels are codes with a space between them. What is not known is empty.
    approach = models.CharField(max_length=20, choices=APPROACHES, blank=True)
    vessels = models.CharField(max_length=200, blank=True)
    device = models.CharField(max_length=20, choices=DEVICES, blank=True)
    # Of a foot infection.
    grade = models.CharField(max_length=10, choices=GRADES, blank=True)
    started_on = models.DateField()
    started_precision = models.CharField(max_length=5, choices=PRECISIONS, default="day")
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
                condition=Q(side="", kind__in=OF_THE_PERSON)
                | (Q(side__in=Side.values, kind__in=FactKind.values) & ~Q(kind__in=OF_THE_PERSON)),
            ),
            models.CheckConstraint(
                name="fact_is_dated_in_a_known_way", condition=Q(started_precision__in=list(dict(PRECISIONS)))
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
                name="fact_names_a_level_only_of_an_amputation",
                condition=Q(kind=FactKind.AMPUTATION, level__in=list(dict(LEVELS)))
                | (~Q(kind=FactKind.AMPUTATION) & Q(level="")),
            ),
            models.CheckConstraint(
                name="fact_names_a_toe_only_where_one_was_taken_off",
                # "Is not null" is said apart: a database lets a check pass that it cannot decide.
                condition=(Q(level__in=OF_ONE_TOE) & Q(toe__isnull=False, toe__gte=1, toe__lte=5))
                | (~Q(level__in=OF_ONE_TOE) & Q(toe=None)),
            ),
            models.CheckConstraint(
                name="fact_names_vessels_only_of_a_revascularisation",
                condition=Q(kind=FactKind.REVASCULARISATION) | Q(approach="", vessels="", device=""),
            ),
            models.CheckConstraint(
                name="fact_names_a_grade_only_of_an_infection",
                condition=Q(kind=FactKind.FOOT_INFECTION) | Q(grade=""),
            ),
            # What was taken off does not come back; a slip is corrected or withdrawn.
            models.CheckConstraint(
                name="fact_done_once_has_no_end",
                condition=~Q(kind__in=DONE_ONCE) | Q(ended_on=None),
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
    def has_end(self) -> bool:
        """Whether it can ever be over: not what was done once, such as an amputation."""
        return self.kind not in DONE_ONCE

    @property
    def dated(self) -> EventDate:
        """When it began, as exactly as it is known."""
        return EventDate(self.started_on, Precision(self.started_precision))

    @property
    def when(self) -> str:
        """ "since Nov 2019"; of what was done once, only when: "about 2019"."""
        return f"since {self.dated.words}" if self.has_end else self.dated.words

    @property
    def whose(self) -> str:
        """RIGHT, LEFT, or "whole person"."""
        return str(Side(self.side).label) if self.side else "whole person"

    @property
    def event(self) -> LimbEvent | None:
        """As the core takes it; None for a wound and for rest pain, which the core reads as facts."""
        if self.kind not in set(EventKind):
            return None
        return LimbEvent(
            kind=EventKind(self.kind),
            on=self.dated,
            side=CoreSide(self.side) if self.side else None,
            until=EventDate(self.ended_on) if self.ended_on else None,
            level=AmputationLevel(self.level) if self.level else None,
            toes=(self.toe,) if self.toe else (),
            vessels=tuple(Vessel(one) for one in self.vessels.split()),
            approach=Approach(self.approach) if self.approach else None,
            device=Device(self.device) if self.device else None,
            grade=InfectionGrade(self.grade) if self.grade else None,
        )

    @property
    def words(self) -> str:
        """The fact without its side: "open wound", "hallux amputated or absent"."""
        if self.level == AmputationLevel.TOE and self.toe:
            return f"{Toe(self.toe).label} amputated or absent"
        event = self.event
        if event is None or not (event.grade or self.kind in DONE_ONCE):
            return str(FactKind(self.kind).label)
        said = event.words.removeprefix(f"{self.whose} ")
        left = event.device if event.device is not Device.NONE else None
        return f"{said} ({left.words})" if left else said
