"""Names that mean nothing outside one export. Pure but for the service's secret."""

import hmac
from dataclasses import dataclass
from datetime import date
from hashlib import sha256

from django.utils.crypto import salted_hmac

BAND_YEARS, OLDEST = 5, 90


@dataclass(frozen=True)
class Pseudonyms:
    """The keyed names of one export. Its key rests in the secret and the salt together, in neither alone."""

    key: bytes

    @classmethod
    def of(cls, salt: str) -> "Pseudonyms":
        return cls(salted_hmac(f"audit export {salt}", "key", algorithm="sha256").digest())

    def name(self, kind: str, number: int) -> str:
        return hmac.new(self.key, f"{kind} {number}".encode(), sha256).hexdigest()[:16]


def age_band(born: date, on: date) -> str:
    """ "60-64"; from 90 on, "90+"."""
    age = on.year - born.year - ((on.month, on.day) < (born.month, born.day))
    if age >= OLDEST:
        return f"{OLDEST}+"
    first = age // BAND_YEARS * BAND_YEARS
    return f"{first}-{first + BAND_YEARS - 1}"


def wide_age_band(band: str) -> str:
    """Of a band of five years, one that holds many: under 50, 50-69, 70 and over."""
    first = int(band.rstrip("+").split("-")[0])
    return "under 50" if first < 50 else "50-69" if first < 70 else "70 and over"
