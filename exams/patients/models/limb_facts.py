"""What has happened to a limb, or to the whole person, as it is stored."""

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
    Side,
    Toe,
)
from exams.patients.models.people import Patient


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
    # Said to have reached the bone; False is "not said".
    osteomyelitis = models.BooleanField(default=False)
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
            # Mild is of the skin alone (clinical reference 4.5).
            models.CheckConstraint(
                name="fact_of_bone_is_an_infection_beyond_mild",
                condition=Q(osteomyelitis=False)
                | (Q(kind=FactKind.FOOT_INFECTION) & ~Q(grade=InfectionGrade.MILD.value)),
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
            osteomyelitis=self.osteomyelitis,
        )

    @property
    def words(self) -> str:
        """The fact without its side: "open wound", "hallux amputated or absent"."""
        if self.level == AmputationLevel.TOE and self.toe:
            return f"{Toe(self.toe).label} amputated or absent"
        event = self.event
        if event is None or not (event.grade or event.osteomyelitis or self.kind in DONE_ONCE):
            return str(FactKind(self.kind).label)
        said = event.words.removeprefix(f"{self.whose} ")
        left = event.device if event.device is not Device.NONE else None
        return f"{said} ({left.words})" if left else said
