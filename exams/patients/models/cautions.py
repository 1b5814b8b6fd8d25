"""A reason not to inflate a cuff, or to take care, as it is stored."""

from datetime import date

from django.db import models
from django.db.models import F, Q

from exams.patients.events import Side
from exams.patients.models.people import Patient


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
