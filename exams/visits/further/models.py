"""What is stored of a further test: each entered value a row."""

from django.db import models
from django.db.models import Q


class FurtherTest(models.TextChoices):
    EXERCISE = "exercise", "after exercise"
    SEGMENTS_4 = "segments-4", "segmental pressures, 4 cuffs"
    SEGMENTS_3 = "segments-3", "segmental pressures, 3 cuffs"
    WAVEFORMS = "waveforms", "Doppler waveforms"
    PULSE_VOLUME = "pulse-volume", "pulse-volume recording"
    OXYGEN = "oxygen", "transcutaneous oxygen"
    CATEGORY = "category", "Rutherford category and Fontaine stage"


class FurtherEntry(models.Model):
    """One entered value of a further test. Retyping adds a row; the newest stands, the older ones stay."""

    exam = models.ForeignKey("visits.Exam", on_delete=models.PROTECT, related_name="further_entries")
    test = models.CharField(max_length=20, choices=FurtherTest)
    field = models.CharField(max_length=60)
    # As `typed.read_entry` wrote it down; empty where the value was taken back.
    value = models.CharField(max_length=300, blank=True)
    client_id = models.UUIDField(unique=True)
    typed_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )
    replaced_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="further_entry_is_of_a_known_test", condition=Q(test__in=FurtherTest.values)
            ),
            models.UniqueConstraint(
                fields=["exam", "test", "field"],
                condition=Q(replaces=None),
                name="further_entry_one_first_entry",
            ),
        ]

    def __str__(self):
        return f"further entry {self.pk}"
