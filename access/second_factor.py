"""How the second factor is kept and spoken of."""

import base64
import hashlib

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser

# Either is a second factor; recovery codes only stand in for one.
SECOND_FACTORS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)


class SecondFactorAdapter(DefaultMFAAdapter):
    """Keeps the secrets encrypted: a stolen copy of the database must not be able to make codes.

    The key comes from SECRET_KEY. After that is changed, secrets set up before are still read with the old
    one, as long as VASLAB_OLD_SECRET_KEYS holds it.
    """

    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": "This code is not right, or its time is over. Type the one shown now.",
    }

    def generate_authenticator_name(self, user: AbstractBaseUser, type: Authenticator.Type) -> str:
        return "Passkey"

    def encrypt(self, text: str) -> str:
        return _keys().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _keys().decrypt(encrypted_text.encode()).decode()


def _keys() -> MultiFernet:
    secrets = [str(secret) for secret in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]
    return MultiFernet([Fernet(_key_from(secret)) for secret in secrets])


def _key_from(secret: str) -> bytes:
    mark = hashlib.sha256(b"vaslab second factor:" + secret.encode())
    return base64.urlsafe_b64encode(mark.digest())
