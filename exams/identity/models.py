"""What is stored of corrections of identity: two records merged, and two that only look alike."""

from django.db import models
from django.db.models import F, Q


class Merge(models.Model):
    """One record taken over by another of the same person; undone, it stays as history.

    ``changes`` holds every row the merge added, changed or took away, before and after, so that it can be
    undone exactly (``kept.py``); a row that was moved thereby remembers where it came from.
    """

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    survivor = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="merges")
    merged = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="merged_away")
    # Field to what was decided: {"kept": "survivor" or "merged", "survivor": words, "merged": words}.
    decisions = models.JSONField(default=dict)
    changes = models.JSONField(default=list)
    # [table, number] of every row of the record right after the merge: what is not among them came later.
    stood = models.JSONField(default=list)
    because = models.CharField(max_length=200)
    merged_at = models.DateTimeField()
    merged_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(
        "access.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    undone_because = models.CharField(max_length=200, blank=True)
    # To which record each row went that was written after the merge.
    placed = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["merged"], condition=Q(undone_at=None), name="record_merged_once_at_a_time"
            ),
            models.CheckConstraint(
                name="merge_is_of_two_records", condition=~Q(survivor=F("merged")) & ~Q(because="")
            ),
            models.CheckConstraint(
                name="merge_undone_says_who_and_why",
                condition=Q(undone_at=None, undone_by=None, undone_because="")
                | (Q(undone_at__isnull=False, undone_by__isnull=False) & ~Q(undone_because="")),
            ),
        ]

    def __str__(self):
        return f"merge {self.pk}"


class DifferentPeople(models.Model):
    """Two records that look alike and were said to be of two people: the list offers them no more."""

    clinic = models.ForeignKey("access.Clinic", on_delete=models.PROTECT, related_name="+")
    # The lower number first, so that a pair is one pair.
    one = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="+")
    because = models.CharField(max_length=200)
    said_at = models.DateTimeField()
    said_by = models.ForeignKey("access.User", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["one", "other"], name="different_people_said_once"),
            models.CheckConstraint(
                name="different_people_lower_number_first", condition=Q(one__lt=F("other")) & ~Q(because="")
            ),
        ]

    def __str__(self):
        return f"different people {self.pk}"
