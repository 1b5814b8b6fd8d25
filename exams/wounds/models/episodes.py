"""Episodes and their wounds, and what is said of each."""

from collections.abc import Iterable

from django.db import models
from django.db.models import F, Q

from exams.hemodynamics import EventDate, Precision
from exams.patients.events import PRECISIONS
from exams.patients.models import Side
from exams.wounds.codes import Cause, EpisodeEnd, Status
from exams.wounds.places import CHOICES, PLACE_OF, STUMP, Place


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
    cause = models.CharField(max_length=16, choices=Cause)
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

    def is_wound_of(self, amputation: "WoundEntry") -> bool:
        """Whether this is the wound that the operation left which took ``amputation``'s part."""
        return (
            self.place == STUMP
            and self.side == amputation.side
            and amputation.closed_on is not None
            and self.dated.latest >= amputation.closed_on
        )


def without_wound_of_amputation(entries: Iterable[WoundEntry]) -> list[WoundEntry]:
    """The wounds of an episode that went with an amputation whose own wound nobody has recorded.

    An amputation leaves a wound, and its episode is over only when that has healed (C:S46).
    """
    entries = list(entries)
    return [
        gone
        for gone in entries
        if gone.status == Status.AMPUTATED and not any(entry.is_wound_of(gone) for entry in entries)
    ]


class BeyondSalvage(models.Model):
    """WIfI stage 5, a foot that cannot be saved: a clinician's judgement, never computed.

    ``holds`` False takes back what was said before; the newest row of a side stands.
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
