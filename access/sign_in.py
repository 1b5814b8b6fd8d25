"""How the sign-in library is fitted to this service."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class Adapter(DefaultAccountAdapter):
    """Accounts are made by an administrator, never by whoever comes along."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Nothing: the service writes no letters about accounts; an administrator hands over a link."""
