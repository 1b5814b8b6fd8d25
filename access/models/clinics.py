"""A clinic, and who holds which role in it."""

import zoneinfo

from django.core.exceptions import ValidationError
from django.db import models

from access import clock
from access.models.users import User
from access.roles import ROLES_NEEDING_APPROVAL, Role


def known_time_zone(value: str) -> None:
    """Refuse a time zone that is not in the shipped list."""
    if value not in zoneinfo.available_timezones():
        raise ValidationError(f"“{value}” is not a known time zone. Try Europe/London.")


class Clinic(models.Model):
    """A place with its own patients: nothing of one clinic is visible from another."""

    name = models.CharField(max_length=120, unique=True)
    address = models.CharField(max_length=300, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    time_zone = models.CharField(max_length=64, default="Europe/London", validators=[known_time_zone])
    # The order the exam sheet asks in; some labs take toes before the feet cool.
    toes_first = models.BooleanField(default=False)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)


class Membership(models.Model):
    """One role of one person in one clinic, from the moment it is approved until it is ended.

    The system administrator serves all clinics, so that role has no clinic.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    clinic = models.ForeignKey(
        Clinic, on_delete=models.PROTECT, related_name="memberships", null=True, blank=True
    )
    role = models.CharField(max_length=24, choices=Role.choices)
    granted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    granted_at = models.DateTimeField(default=clock.now)
    approved_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    approved_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        verbose_name = "role"
        constraints = (
            models.CheckConstraint(
                condition=models.Q(role=Role.SYSTEM_ADMINISTRATOR, clinic=None)
                | (~models.Q(role=Role.SYSTEM_ADMINISTRATOR) & models.Q(clinic__isnull=False)),
                name="only_the_system_administrator_has_no_clinic",
            ),
            models.UniqueConstraint(
                fields=("user", "clinic", "role"),
                condition=models.Q(ended_at=None),
                name="a_role_is_held_once",
            ),
            models.UniqueConstraint(
                fields=("user", "role"),
                condition=models.Q(ended_at=None, clinic=None),
                name="a_service_role_is_held_once",
            ),
            models.UniqueConstraint(
                fields=("user",),
                condition=models.Q(ended_at=None, role=Role.GATEWAY),
                name="a_gateway_serves_one_clinic",
            ),
            # Two different people stand behind each of these roles. The very first system administrator
            # has nobody to ask, and is made by a command on the machine itself (granted by nobody).
            models.CheckConstraint(
                condition=~models.Q(role__in=sorted(ROLES_NEEDING_APPROVAL))
                | models.Q(approved_at=None)
                | models.Q(role=Role.SYSTEM_ADMINISTRATOR, granted_by=None)
                | (
                    models.Q(approved_by__isnull=False, granted_by__isnull=False)
                    & ~models.Q(approved_by=models.F("granted_by"))
                    & ~models.Q(approved_by=models.F("user"))
                ),
                name="two_people_stand_behind_a_clinical_role",
            ),
        )

    def __str__(self) -> str:
        return f"{self.get_role_display()} (membership {self.pk})"

    @property
    def in_force(self) -> bool:
        return self.approved_at is not None and self.ended_at is None
