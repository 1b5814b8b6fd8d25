"""What a program proves itself with, and what it has sent already."""

from django.db import models

from access import clock
from access.models.clinics import Clinic
from access.models.users import User


class AccessToken(models.Model):
    """A long random text by which a program acts as its own account. Only a hash of it is stored: whoever
    reads the database cannot use it.

    A bedside gateway's opens what the account's role opens, in the account's one clinic. Any other program's
    names a clinic and scopes: there it opens what its maker's roles open now, as far as the scopes reach.
    """

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="access_tokens")
    token_hash = models.CharField(max_length=64, unique=True)
    clinic = models.ForeignKey(Clinic, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    # Names of scopes of the role matrix with a space between them.
    scopes = models.CharField(max_length=400, blank=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField(default=clock.now)
    expires_at = models.DateTimeField()
    revoked_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    # Written at most once a minute: it answers "is this device still in use?", no more.
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("user",), condition=models.Q(revoked_at=None), name="one_token_an_account"
            ),
            models.CheckConstraint(
                condition=models.Q(revoked_at=None, revoked_by=None)
                | models.Q(revoked_at__isnull=False, revoked_by__isnull=False),
                name="a_revoked_token_says_by_whom",
            ),
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")), name="a_token_expires_later"
            ),
            models.CheckConstraint(
                condition=models.Q(scopes="", clinic=None)
                | (~models.Q(scopes="") & models.Q(clinic__isnull=False)),
                name="a_scoped_token_names_its_clinic",
            ),
        )

    def __str__(self) -> str:
        return f"access token {self.pk}"

    @property
    def in_force(self) -> bool:
        return self.revoked_at is None and self.expires_at > clock.now()


class KeyUsed(models.Model):
    """An Idempotency-Key an account has used, what it sent under it, and the number of the row it made."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=60)
    content_hash = models.CharField(max_length=64)
    # Null only inside the act that makes the row.
    made = models.PositiveBigIntegerField(null=True)
    at = models.DateTimeField(default=clock.now)

    class Meta:
        constraints = (models.UniqueConstraint(fields=("user", "key"), name="a_key_is_used_once"),)

    def __str__(self) -> str:
        return f"key used {self.pk}"
