"""What access stores: people and programs, clinics and their roles; the trail; the browser's queue keys."""

from access.models.clinics import Clinic, Membership
from access.models.queue_keys import QueueKey
from access.models.tokens import AccessToken, KeyUsed
from access.models.trail import TrailHead, TrailRow
from access.models.users import SetPasswordLink, User

__all__ = [
    "AccessToken",
    "Clinic",
    "KeyUsed",
    "Membership",
    "QueueKey",
    "SetPasswordLink",
    "TrailHead",
    "TrailRow",
    "User",
]
