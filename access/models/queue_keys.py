"""The key that encrypts values waiting in a browser until the connection returns."""

from django.db import models

from access import clock
from access.models.users import User


class QueueKey(models.Model):
    """One random key a person. It outlives a dropped connection or an idle lock, never a sign-out."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="queue_key", primary_key=True)
    key = models.BinaryField(max_length=32)
    made_at = models.DateTimeField(default=clock.now)
    expires_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"queue key of user {self.user_id}"
