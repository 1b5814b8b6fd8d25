"""What is typed at the bedside, read: a reading or a condition, or the words why it cannot be.

Only the number pad is needed: ``132`` or ``132.5`` a pressure, ``*250`` cannot be occluded at 250, ``/`` no
signal, ``-N`` not obtained for reason N of the list. Limits of pressure and temperature: the issue that asked
for this page. Every refusal is a ``ValidationError`` whose words say what, what was kept, and what next.
"""

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError

from exams.visits.models import NotObtained, Outcome, PreparationItem, Site
from exams.visits.plan import kind_of_site
from exams.visits.wording import POSITIONS, REASONS, SITE_NAMES, plain

ARM_LOWEST_MMHG = 50
FOOT_LOWEST_MMHG = 1
HIGHEST_MMHG = 300
KEPT = "Your other readings are kept."
# Only to keep out slips of the hand; common sense, no source.
CUFF_LIMITS_MM = (5, 250)
# 1 kPa is 7.50062 mmHg.
MMHG_PER_KPA = Decimal("7.50062")

# Reasons that say themselves where they belong; all others can be one anywhere.
_ONLY_AT = {
    NotObtained.TOE_TOO_SHORT: "toe",
    NotObtained.TOE_DEFORMED: "toe",
    NotObtained.ARM_PROTECTED: "arm",
}

_NUMBER = re.compile(r"(\d{1,9})(?:[.,](\d{0,6}))?", re.ASCII)
_WITH_UNIT = re.compile(r"(.*\d[.,]?)\s*(mm ?hg|kpa)", re.ASCII | re.IGNORECASE)
_WITH_DEGREES = re.compile(r"(.*\d[.,]?)\s*°?\s*c", re.ASCII | re.IGNORECASE)
_BOTH_PRESSURES = re.compile(r"(\d{2,3})\s*/\s*\d{2,3}", re.ASCII)
_NOT_OBTAINED = re.compile(r"-\s*(\d{1,3})(?:\s+(.*))?", re.ASCII | re.DOTALL)
_SIGNED = re.compile(r"[-−]?\d{1,6}(?:[.,]\d{1,4})?", re.ASCII)


@dataclass(frozen=True)
class TypedReading:
    """What one field says. `note` is what the page must say back ("132,5 was read as 132.5").

    `pressure_mmhg` is whole or half mmHg; for ``not_occludable`` it is the cuff pressure reached.
    """

    outcome: Outcome
    pressure_mmhg: Decimal | None = None
    reason: str = ""
    reason_text: str = ""
    note: str = ""


def read_reading(typed: str, site: str, name: str = "") -> TypedReading | None:
    """What was typed at a site, or None for an emptied field; ValidationError with the words otherwise.

    `name` is what the words call the place, where that is not the site's own name.
    """
    name = name or SITE_NAMES[site]
    text = typed.strip()
    if not text:
        return None
    if text == "/":
        return TypedReading(Outcome.NO_SIGNAL)
    if text.startswith("*"):
        return _not_occludable(text, site, name)
    if text.startswith(("-", "−")):
        return _not_obtained(text.replace("−", "-", 1), site)
    mmhg = _pressure(text, site, name)
    note = f"The comma was read as a decimal point: {plain(mmhg)}." if "," in text else ""
    return TypedReading(Outcome.PRESSURE, mmhg, note=note)


def read_cuff_mm(typed: str) -> int | None:
    """Width of a cuff in whole mm, or None for an emptied field; ValidationError with the words otherwise."""
    text, (least, most) = typed.strip(), CUFF_LIMITS_MM
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) < 5 and least <= int(text) <= most):
        raise ValidationError(f"Cuff width: type whole mm, {least} to {most}. {KEPT}", code="impossible")
    return int(text)


def written(outcome: str, pressure_mmhg: Decimal | None, reason: str, reason_text: str) -> str:
    """What a person would type to say the same: the other way round of `read_reading`."""
    if outcome == Outcome.PRESSURE:
        return plain(pressure_mmhg)
    if outcome == Outcome.NOT_OCCLUDABLE:
        return f"*{plain(pressure_mmhg)}" if pressure_mmhg is not None else "*"
    if outcome == Outcome.NO_SIGNAL:
        return "/"
    return f"-{REASONS.index(NotObtained(reason)) + 1} {reason_text}".strip()


def _not_occludable(text: str, site: str, name: str) -> TypedReading:
    reached = text[1:].strip()
    if not reached:
        raise ValidationError(
            "Say at which cuff pressure it could not be occluded, for example *250. " + KEPT, code="unclear"
        )
    return TypedReading(Outcome.NOT_OCCLUDABLE, _pressure(reached, site, name, star="*"))


def _not_obtained(text: str, site: str) -> TypedReading:
    match = _NOT_OBTAINED.fullmatch(text)
    number = int(match.group(1)) if match else 0
    if not match or not 1 <= number <= len(REASONS):
        raise ValidationError(
            f"{text} is not a reason on the list. Type - and a number from 1 to {len(REASONS)}. {KEPT}",
            code="unclear",
        )
    reason, words = REASONS[number - 1], read_words(match.group(2) or "", most=200)
    only_at = _ONLY_AT.get(reason)
    if only_at not in (None, kind_of_site(site)):
        raise ValidationError(
            f"“{reason.label}” is a reason at {'an arm' if only_at == 'arm' else 'a toe'} only. "
            f"Choose another of the list, or -{len(REASONS)} and say what it was. {KEPT}",
            code="unclear",
        )
    if reason == NotObtained.OTHER and not words:
        raise ValidationError(
            f"Say what it was, after the number: for example -{number} alarm sounded. {KEPT}", code="unclear"
        )
    return TypedReading(Outcome.NOT_OBTAINED, reason=reason, reason_text=words)


def as_mmhg(kpa: Decimal) -> int:
    """A pressure in kPa as whole mmHg."""
    return int((kpa * MMHG_PER_KPA).to_integral_value())


def _pressure(text: str, site: str, name: str, star: str = "") -> Decimal:
    with_unit = _WITH_UNIT.fullmatch(text)
    match = _NUMBER.fullmatch(with_unit.group(1) if with_unit else text)
    if both := _BOTH_PRESSURES.fullmatch(text):
        raise ValidationError(
            f"“{text}” is two pressures. Type the upper one alone: {both.group(1)}. {KEPT}", code="unclear"
        )
    if match and with_unit and with_unit.group(2).lower() == "kpa":
        about = as_mmhg(Decimal(f"{match.group(1)}.{match.group(2) or 0}"))
        raise ValidationError(
            f"{match.group(0)} kPa is about {about} mmHg: type the pressure in mmHg. {KEPT}", code="kpa"
        )
    if not match:
        raise ValidationError(
            f"“{text[:40]}” is not understood. Type a number, *250 (cannot be occluded at 250), "
            f"/ (no signal) or - and a reason's number. {KEPT}",
            code="unclear",
        )
    mmhg = Decimal(f"{match.group(1)}.{match.group(2) or 0}")
    lowest = ARM_LOWEST_MMHG if site == Site.ARM else FOOT_LOWEST_MMHG
    if mmhg == 0:
        raise ValidationError(
            "0 is not a pressure. Type / for no signal, or - and a reason's number for not obtained. " + KEPT,
            code="zero",
        )
    halves = mmhg * 2 == (mmhg * 2).to_integral_value()
    if lowest <= mmhg <= HIGHEST_MMHG and halves:
        return mmhg
    name, shown = name[0].upper() + name[1:], f"{star}{match.group(0)}"
    in_mmhg = as_mmhg(mmhg)
    if mmhg < 40 and (match.group(2) or mmhg < lowest) and lowest <= in_mmhg <= HIGHEST_MMHG:
        raise ValidationError(
            f"{name} pressure {shown} is not possible in mmHg. In kPa it would be about {in_mmhg} mmHg: "
            f"type the pressure in mmHg. {KEPT}",
            code="kpa",
        )
    if lowest <= mmhg <= HIGHEST_MMHG:
        raise ValidationError(
            f"{name} pressure {shown} has more than halves. Type whole or half mmHg, for example "
            f"{plain((mmhg * 2).to_integral_value() / 2)}. {KEPT}",
            code="steps",
        )
    meant = _meant(match.group(1), lowest) if mmhg > HIGHEST_MMHG else ""
    question = f" Did you mean {star}{meant}?" if meant else f" It must be {lowest} to {HIGHEST_MMHG} mmHg."
    raise ValidationError(f"{name} pressure {shown} is not possible.{question} {KEPT}", code="impossible")


def _meant(digits: str, lowest: int) -> str:
    """What a slip of the hand may have meant: a digit too many, or two digits swapped; else nothing."""
    doubled = [
        digits[:i] + digits[i + 1 :] for i in range(len(digits) - 1, 0, -1) if digits[i] == digits[i - 1]
    ]
    candidates = [digits[:-1] if digits.endswith("0") else "", *doubled]
    if len(digits) == 4 and digits.endswith("5"):
        candidates.append(f"{digits[:-1]}.5")
    candidates += [digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :] for i in range(len(digits) - 1)]
    if len(digits) > 3:
        candidates.append(digits[:-1])
    for candidate in candidates:
        if candidate and not candidate.startswith("0") and lowest <= Decimal(candidate) <= HIGHEST_MMHG:
            return candidate
    return ""


def read_words(typed: str, most: int) -> str:
    """Free words, tidied; ValidationError where they are too long or hold what a database cannot keep."""
    words = unicodedata.normalize("NFC", " ".join(typed.split()))
    if any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in words):
        raise ValidationError(
            f"This holds a character that cannot be seen. Type it again instead of pasting. {KEPT}",
            code="unclear",
        )
    if len(words) > most:
        raise ValidationError(
            f"This is longer than {most} characters ({len(words)}). Shorten it. {KEPT}", code="too long"
        )
    return words


@dataclass(frozen=True)
class Limits:
    """Lowest and highest of a condition, its unit and how many decimals are kept."""

    low: Decimal
    high: Decimal
    unit: str
    decimals: int


# Temperatures: the issue. The others only keep out slips of the hand; common sense, no source.
LIMITS = {
    PreparationItem.RIGHT_TOE_CELSIUS: Limits(Decimal(5), Decimal(45), "°C", 1),
    PreparationItem.LEFT_TOE_CELSIUS: Limits(Decimal(5), Decimal(45), "°C", 1),
    PreparationItem.ROOM_CELSIUS: Limits(Decimal(5), Decimal(45), "°C", 1),
    PreparationItem.HEART_TO_FOOT_CM: Limits(Decimal(-200), Decimal(200), "cm", 1),
    PreparationItem.TOBACCO_HOURS: Limits(Decimal(0), Decimal(9999), "hours", 1),
    PreparationItem.CAFFEINE_HOURS: Limits(Decimal(0), Decimal(9999), "hours", 1),
    PreparationItem.REST_MINUTES_TYPED: Limits(Decimal(0), Decimal(600), "minutes", 0),
}
CHOICES = {
    PreparationItem.POSITION: POSITIONS,
    PreparationItem.FIRST_ARM: {"right": "RIGHT", "left": "LEFT"},
    PreparationItem.CUFFS_CLEANED: {"yes": "yes", "no": "no"},
}


def read_preparation(typed: str, item: str) -> str:
    """A condition as it is stored ("" for an emptied field); ValidationError with the words otherwise."""
    text = typed.strip()
    label = PreparationItem(item).label
    if not text:
        return ""
    if item in CHOICES:
        offered = CHOICES[PreparationItem(item)]
        if text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= len(offered):
            return list(offered)[int(text) - 1]
        if text not in offered:
            words = "; ".join(f"{number} {one}" for number, one in enumerate(offered.values(), start=1))
            raise ValidationError(f"“{text[:40]}” is not one of: {words}. {KEPT}", code="unclear")
        return text
    if item not in LIMITS:
        return read_words(text, most=300)
    return _measured_condition(text, LIMITS[PreparationItem(item)], label)


def _measured_condition(text: str, limits: Limits, label: str) -> str:
    name = label[0].upper() + label[1:]
    degrees = _WITH_DEGREES.fullmatch(text) if limits.unit == "°C" else None
    text = degrees.group(1) if degrees else text
    if not _SIGNED.fullmatch(text):
        raise ValidationError(
            f"{name}: “{text[:40]}” is not a number. Type figures only, or leave it empty. {KEPT}",
            code="unclear",
        )
    number = Decimal(text.replace("−", "-").replace(",", "."))
    if not limits.low <= number <= limits.high:
        celsius = (number - 32) * 5 / 9
        warm = limits.unit == "°C" and Decimal(10) <= celsius <= limits.high
        ask = f" In °F it would be about {celsius:.0f} °C: type °C." if warm else ""
        raise ValidationError(
            f"{name}: {text} is not possible, it must be {limits.low} to {limits.high} {limits.unit}.{ask} "
            f"{KEPT}",
            code="impossible",
        )
    if number != round(number, limits.decimals):
        places = "one decimal" if limits.decimals else "a whole number"
        raise ValidationError(f"{name}: {text} is finer than is kept. Type {places}. {KEPT}", code="steps")
    return f"{number.normalize():f}" if number else "0"
