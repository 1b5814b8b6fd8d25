"""The roles a person or a device may hold, and which of them need a second person's approval."""

from django.db import models


class Role(models.TextChoices):
    MEASURER = "measurer", "measurer"
    REPORTER = "reporter", "reporter"
    WOUND_TEAM = "wound_team", "wound team"
    ADMINISTRATOR = "administrator", "administrator"
    EDUCATOR = "educator", "educator"
    SYSTEM_ADMINISTRATOR = "system_administrator", "system administrator"
    # Held by a device at the bedside, never by a person.
    GATEWAY = "gateway", "bedside gateway"


CLINICAL_ROLES = frozenset({Role.MEASURER, Role.REPORTER, Role.WOUND_TEAM})

# These open clinical content or the whole service, so nobody hands them out alone.
ROLES_NEEDING_APPROVAL = CLINICAL_ROLES | {Role.SYSTEM_ADMINISTRATOR}

# What an administrator may give to a person.
ROLES_OF_PEOPLE = tuple(role for role in Role if role != Role.GATEWAY)
