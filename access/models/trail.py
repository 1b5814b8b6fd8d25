"""The trail: who saw and did what. Rows are added, never changed."""

import json
from typing import Any

from django.apps import apps
from django.db import models

from access.models.clinics import Clinic
from access.models.users import User


class TrailHead(models.Model):
    """The last link of one chain: a clinic's, or the service's own where there is no clinic."""

    clinic = models.OneToOneField(Clinic, on_delete=models.PROTECT, null=True, related_name="trail_head")
    sequence = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64, default="0" * 64)

    class Meta:
        constraints = (
            # A null never equals a null, so the service's chain needs its own rule.
            models.UniqueConstraint(
                models.Value(1),
                condition=models.Q(clinic=None),
                name="one_trail_head_for_the_service",
            ),
        )

    def __str__(self) -> str:
        return f"trail head, clinic {self.clinic_id}, row {self.sequence}"


class TrailRow(models.Model):
    """One line of the trail.

    ``details_json`` is text, not a JSON column: a database may rewrite the numbers of a JSON column, and
    the hash must speak of exactly the bytes that are stored.
    """

    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    sequence = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    user = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    role = models.CharField(max_length=24, blank=True)
    action = models.CharField(max_length=100)
    subject_type = models.CharField(max_length=60, blank=True)
    subject_id = models.CharField(max_length=40, blank=True)
    patient_id = models.PositiveBigIntegerField(null=True, blank=True)
    details_json = models.TextField(default="{}")
    request_id = models.CharField(max_length=36, blank=True)
    came_from = models.CharField(max_length=45, blank=True)
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("clinic", "sequence"), name="one_trail_row_a_place"),
            models.UniqueConstraint(
                fields=("sequence",),
                condition=models.Q(clinic=None),
                name="one_service_trail_row_a_place",
            ),
        )
        indexes = (
            models.Index(fields=("clinic", "at"), name="trail_by_day"),
            models.Index(fields=("clinic", "patient_id"), name="trail_by_patient"),
            models.Index(fields=("clinic", "user"), name="trail_by_person"),
        )

    def __str__(self) -> str:
        return f"{self.action} (row {self.sequence})"

    @property
    def role_words(self) -> str:
        """The role as it is said; empty where nobody was signed in."""
        return self.role.replace("_", " ")

    @property
    def subject_words(self) -> str:
        """The kind of thing the row is about, as the trade calls it."""
        try:
            return str(apps.get_model(self.subject_type)._meta.verbose_name)
        except (LookupError, ValueError):  # a kind that a later version no longer has
            return self.subject_type

    @property
    def details_shown(self) -> str:
        """The part of the details that holds nothing of a patient: a page refused, a role, a count.

        Old and new values stay out: those who check the trail are not those who may read the record.
        """
        said = self.details
        if "page" in said:
            return str(said["page"])
        if self.subject_type.startswith("access."):
            return ", ".join(
                f"{name} {said[name]}" for name in ("role", "user", "count", "what") if name in said
            )
        return ""

    @property
    def details(self) -> dict[str, Any]:
        said: dict[str, Any] = json.loads(self.details_json)
        return said
