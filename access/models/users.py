"""A member of staff who can sign in, or a device that cannot."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower

from access import clock


class UserManager(BaseUserManager["User"]):
    """Makes accounts; the email is the name typed at sign-in, so it is kept in lower case."""

    def create_user(self, email: str, full_name: str, password: str | None = None) -> "User":
        user = self.model(email=email.strip().lower(), full_name=full_name.strip())
        user.set_password(password)
        user.full_clean()
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> "User":
        return self.get(email=(username or "").strip().lower())


class User(AbstractBaseUser):
    """One person, one account. A device has one too: it proves itself by a token and never signs in.

    Accounts are disabled, never deleted: the trail points at them.
    """

    email = models.EmailField(
        unique=True, error_messages={"unique": "Somebody already signs in with this email address."}
    )
    full_name = models.CharField(max_length=120)
    signs_in = models.BooleanField(default=True)
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(default=clock.now)
    disabled_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["full_name"]

    objects: ClassVar[UserManager] = UserManager()

    class Meta:
        verbose_name = "account"
        constraints = (
            models.CheckConstraint(condition=models.Q(email=Lower("email")), name="emails_in_lower_case"),
            models.CheckConstraint(condition=~models.Q(full_name=""), name="a_person_has_a_name"),
            # What Django puts in place of a password that nobody can type.
            models.CheckConstraint(
                condition=models.Q(signs_in=True) | models.Q(password__startswith="!"),  # noqa: S106
                name="a_device_has_no_password",
            ),
            models.CheckConstraint(
                condition=models.Q(is_active=True, disabled_at=None)
                | models.Q(is_active=False, disabled_at__isnull=False),
                name="a_disabled_account_says_since_when",
            ),
        )

    def __str__(self) -> str:
        return self.full_name

    def get_full_name(self) -> str:
        return self.full_name


class SetPasswordLink(models.Model):
    """A link, shown once to the administrator, by which a new member sets a first password.

    Only a hash of the token is stored: whoever reads the database cannot use it.
    """

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="set_password_links")
    token_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True)
    made_at = models.DateTimeField(default=clock.now)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"set-password link {self.pk}"
