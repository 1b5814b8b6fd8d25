"""One value of a further test as it was typed, read; and written and shown again.

What is stored is short and plain: a pressure as typed on the sheet, seconds for a time, codes for choices.
"""

import re
from decimal import Decimal

from django.core.exceptions import ValidationError

from exams.hemodynamics import Outcome as CoreOutcome
from exams.hemodynamics import SiteReading, duration_words
from exams.visits.further.catalogue import Ask
from exams.visits.models import Site
from exams.visits.typed import KEPT, read_reading, read_words, written
from exams.visits.wording import plain, reading_shown, reason_words

LONGEST_S = 2 * 60 * 60
_NUMBER = re.compile(r"\d{1,6}(?:[.,]\d{1,4})?", re.ASCII)
_MINUTES = re.compile(r"(\d{1,3}):([0-5]\d)", re.ASCII)


def read_entry(typed: str, ask: Ask) -> str:
    """The value as it is stored, "" for an emptied field; ValidationError with the words otherwise."""
    text = typed.strip()
    if not text:
        return ""
    if ask.kind == "pressure":
        value = read_reading(text, _site(ask), ask.label)
        return written(value.outcome, value.pressure_mmhg, value.reason, value.reason_text) if value else ""
    if ask.kind == "duration":
        return _seconds(text, ask)
    if ask.kind == "number":
        return _number(text, ask)
    if ask.kind == "choice":
        return _choice(text, ask)
    if ask.kind == "codes":
        return _codes(text, ask)
    if ask.kind == "yes":
        return "yes" if text == "yes" else ""
    return read_words(text, most=200)


def typed_of(value: str, ask: Ask) -> str:
    """What a person would type to say the same again."""
    if ask.kind == "duration" and value:
        return minutes_typed(int(value))
    if ask.kind == "codes":
        codes = list(ask.choices)
        return " ".join(str(codes.index(one) + 1) for one in value.split())
    return value


def shown_of(value: str, ask: Ask) -> str:
    """The value as it is read out, with its unit."""
    if not value:
        return ""
    if ask.kind == "pressure":
        read = read_reading(value, _site(ask))
        return reading_shown(read.outcome, read.pressure_mmhg, read.reason, read.reason_text) if read else ""
    if ask.kind == "duration":
        return duration_words(int(value))
    if ask.kind == "codes":
        return ", ".join(ask.choices[one] for one in value.split())
    if ask.kind == "choice":
        words = ask.choices[value]
        return f"{value}, {words}" if value.isdecimal() else words
    return f"{value} {ask.unit}" if ask.unit else value


def note_of(value: str, ask: Ask) -> str:
    """What must be said back at the field because the typed letters do not say it."""
    return shown_of(value, ask) if ask.kind in ("duration", "codes") else ""


def site_reading(value: str, ask: Ask, missing: str) -> SiteReading:
    """A stored pressure as the core takes it; `missing` says why there is none where nothing stands."""
    read = read_reading(value, _site(ask)) if value else None
    if read is None:
        return SiteReading(CoreOutcome.NOT_OBTAINED, reason=missing)
    return SiteReading(
        CoreOutcome(read.outcome),
        None if read.pressure_mmhg is None else int(read.pressure_mmhg * 2),
        reason_words(read.reason, read.reason_text) if read.reason else None,
    )


def minutes_typed(seconds: int) -> str:
    """ "0.5", "2", "2:20": decimal minutes where one decimal says it exactly."""
    if seconds % 6 == 0:
        return plain(Decimal(seconds) / 60)
    return f"{seconds // 60}:{seconds % 60:02}"


def _site(ask: Ask) -> str:
    return Site.ARM if Site.ARM.value in {part.value for part in ask.parts} else Site.POSTERIOR_TIBIAL


def _name(ask: Ask) -> str:
    return ask.label[0].upper() + ask.label[1:]


def _seconds(text: str, ask: Ask) -> str:
    exact = _MINUTES.fullmatch(text)
    if exact:
        seconds = int(exact.group(1)) * 60 + int(exact.group(2))
    elif _NUMBER.fullmatch(text):
        # The number pad has no colon: minutes and tenths are typed, 20 s is 0.33.
        seconds = int(Decimal(text.replace(",", ".")) * 60 + Decimal("0.5"))
    else:
        raise ValidationError(
            f"{_name(ask)}: “{text[:40]}” is not a time. Type minutes: 2, 2.5 or 2:30. {KEPT}", code="unclear"
        )
    if seconds > LONGEST_S:
        raise ValidationError(
            f"{_name(ask)}: {text} min is longer than two hours. Type minutes: 2, 2.5 or 2:30. {KEPT}",
            code="impossible",
        )
    return str(seconds)


def _number(text: str, ask: Ask) -> str:
    limits = ask.limits
    if not _NUMBER.fullmatch(text) or limits is None:
        raise ValidationError(f"{_name(ask)}: “{text[:40]}” is not a number. {KEPT}", code="unclear")
    number = Decimal(text.replace(",", "."))
    if not limits.low <= number <= limits.high:
        raise ValidationError(
            f"{_name(ask)}: {text} is not possible, it must be {plain(limits.low)} to {plain(limits.high)} "
            f"{ask.unit}. {KEPT}",
            code="impossible",
        )
    # Pressures are held in half mmHg.
    halves = ask.unit == "mmHg" and number * 2 != (number * 2).to_integral_value()
    if halves or number != round(number, limits.decimals):
        finest = (
            "a whole number" if not limits.decimals else "halves" if ask.unit == "mmHg" else "one decimal"
        )
        raise ValidationError(
            f"{_name(ask)}: {text} is finer than is kept. Type {finest}. {KEPT}", code="steps"
        )
    return plain(number)


def _choice(text: str, ask: Ask) -> str:
    codes = list(ask.choices)
    if text in codes:
        return text
    # A category is its own number; every other list is numbered from 1.
    if not codes[0].isdecimal() and text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= len(codes):
        return codes[int(text) - 1]
    raise ValidationError(
        f"{_name(ask)}: “{text[:40]}” is not one of: {'; '.join(ask.choices.values())}. {KEPT}",
        code="unclear",
    )


def _codes(text: str, ask: Ask) -> str:
    codes, numbers = list(ask.choices), re.split(r"[\s,.+]+", text.strip(" ,.+"))
    if not all(one.isascii() and one.isdecimal() and 1 <= int(one[:9]) <= len(codes) for one in numbers):
        raise ValidationError(
            f"{_name(ask)}: type the numbers of the list, 1 to {len(codes)}, with a space between. {KEPT}",
            code="unclear",
        )
    chosen = {codes[int(one) - 1] for one in numbers}
    return " ".join(one for one in codes if one in chosen)
