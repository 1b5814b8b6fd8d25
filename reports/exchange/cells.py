"""What stands in a cell, read: a pressure or why there is none, a date, an answer; or the problem with it.

A pressure goes through the one mapping of the sheet (`exams.visits.typed.read_reading`); this file only says
how people write it in tables.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar

from django.core.exceptions import ValidationError

from exams.patients.typed_date import NotADate, read_date, written
from exams.visits.models import NotObtained, Outcome, Site
from exams.visits.typed import KEPT, MMHG_PER_KPA, TypedReading, read_reading
from exams.visits.wording import plain, whole_mmhg
from reports.exchange.words import (
    NO_REASON_GIVEN,
    NO_SIGNAL,
    NOT_OCCLUDABLE,
    NOTHING,
    REASON_OF,
    TWO_MEANINGS,
    key,
)

Value = TypeVar("Value")

_NUMBER = re.compile(r"(\d{1,6})(?:[.,](\d{1,6}))?", re.ASCII)
_BEYOND = re.compile(r"(?:>=?|≥|over|above|more than)\s*(\d{2,3}(?:[.,]\d{1,3})?)", re.ASCII)
_STOPPED_AT = re.compile(r"not_occludable_at_(\d{2,3}(?:\.5)?)", re.ASCII)
_WITH_UNIT = re.compile(r"\s*(mm\s?hg|kpa)\s*$", re.IGNORECASE)
# A number with a sign of doubt beside it: "112?", "9,6*", "~112", "c.112", "(112)".
_DOUBTED = re.compile(
    r"(?:[~≈(]|c\.?|ca\.?)*\s*(\d{1,3}(?:[.,]\d{1,2})?)\s*[?*!)]*", re.ASCII | re.IGNORECASE
)
_FIGURES = re.compile(r"\s*(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{4})\s*", re.ASCII)
_NO_SIGNAL = frozenset(map(key, NO_SIGNAL))
_NOT_OCCLUDABLE = frozenset(map(key, NOT_OCCLUDABLE))
_NOTHING = frozenset(map(key, NOTHING))
_NO_REASON = frozenset(map(key, NO_REASON_GIVEN))
_SIGNS_OF_NOTHING = frozenset({"-", "--", "–", "—", ".", "…"})
# Below, a number with decimals among pressures is a ratio rather than kPa (4 kPa are 30 mmHg). Ours.
HIGHEST_INDEX = 2
WRITE_ONE = (
    "Write a number, “not compressible”, “>255”, “no signal”, a reason such as “amputated”, or leave it "
    "empty; or say under “Words of this table” what it means."
)


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is wrong with a cell, and what to do. `grave`: the row cannot come in with it."""

    reason: str
    suggestion: str = ""
    grave: bool = True


@dataclass(frozen=True, slots=True)
class Read:
    """A reading as the sheet would hold it, None for an empty cell, with a remark on how it was read."""

    value: TypedReading | None
    remark: Trouble | None = None


def read_pressure(text: str, site: str, unit: str) -> Read | Trouble:
    """One cell of a pressure.

    Parameters
    ----------
    text : as it stands in the table, translated by the table's own words already.
    site : one of `Site`; arms have limits of their own.
    unit : "mmhg" or "kpa"; a unit written in the cell goes first.
    """
    text = text.strip()
    if not text or text in _SIGNS_OF_NOTHING:
        return Read(None)
    if match := _WITH_UNIT.search(text):
        unit = "kpa" if match[1].lower() == "kpa" else "mmhg"
        text = text[: match.start()]
    if _NUMBER.fullmatch(text):
        return _kilopascals(text, site) if unit == "kpa" else _through_the_sheet(text, site)
    if beyond := _BEYOND.fullmatch(text.casefold()):
        in_kpa = unit == "kpa"
        return _kilopascals(beyond[1], site, ">") if in_kpa else _through_the_sheet(f"*{beyond[1]}", site)
    if stopped := _STOPPED_AT.fullmatch(text.casefold()):
        return _through_the_sheet(f"*{stopped[1]}", site)
    return _words(text)


def read_reason(text: str) -> TypedReading | Trouble:
    """Why nothing was obtained, from a column of its own."""
    plain_words = key(text)
    if plain_words in REASON_OF:
        return _not_obtained(NotObtained(REASON_OF[plain_words]), text)
    return TypedReading(Outcome.NOT_OBTAINED, reason=NotObtained.OTHER, reason_text=text.strip()[:200])


def read_day(text: str, order: str) -> date | Trouble:
    """A date. ISO dates and month names are read whatever the order; figures by `order` ("dmy", "mdy")."""
    text = text.strip()
    try:
        return datetime.fromisoformat(text).date()
    except ValueError:
        pass
    figures = _FIGURES.fullmatch(text)
    turned = "{1}{2}{0}{2}{3}".format(figures[1], figures[3], figures[2], figures[4]) if figures else ""
    try:
        return read_date(turned if turned and order == "mdy" else text)
    except NotADate as error:
        if turned and (other := _day_or_none(text if order == "mdy" else turned)):
            stands, does_not = ("day", "month") if order == "mdy" else ("month", "day")
            return Trouble(
                f"no day of the calendar, if the {does_not} stands first as in this table",
                f"If the {stands} stands first here it is {written(other)}: write it so.",
            )
        said = str(error)
        reason, _, what_next = said.partition(" Write it like")
        return Trouble(reason, f"Write it like{what_next}" if what_next else "Check the date.")


def two_days(text: str) -> str:
    """The two days that a date in figures may be, in words; "" where it is one day only."""
    figures = _FIGURES.fullmatch(text)
    if not figures or figures[1].lstrip("0") == figures[3].lstrip("0"):
        return ""
    sign, year = figures[2], figures[4]
    days = [_day_or_none(sign.join((*pair, year))) for pair in (figures.group(1, 3), figures.group(3, 1))]
    return " or ".join(written(day) for day in days if day is not None) if all(days) else ""


def _day_or_none(text: str) -> date | None:
    try:
        return read_date(text)
    except NotADate:
        return None


def read_word(text: str, meanings: dict[str, str], what: str) -> str | Trouble:
    """The meaning of a word of a list; "" for an empty cell."""
    plain_words = key(text)
    if plain_words in _NOTHING:
        return ""
    found = meanings.get(plain_words)
    if found is None:
        return Trouble(
            f"“{text[:40]}” is not known as {what}",
            f"Write one of: {', '.join(dict.fromkeys(meanings.values()))}; or say under “Words of this "
            "table” what it means.",
        )
    return found


def read_index(text: str) -> int | Trouble | None:
    """An index in hundredths, from 0.85, 0,85 or 85 %; None for an empty cell or one without a number."""
    text = text.strip()
    percent = text.endswith("%")
    number = _NUMBER.fullmatch(text.rstrip("% "))
    if number is None:
        return (
            None
            if key(text) in _NOTHING | _NOT_OCCLUDABLE | _NO_SIGNAL | _NO_REASON
            else Trouble(
                f"“{text[:40]}” is not an index", "Write it like 0.85, or leave it empty.", grave=False
            )
        )
    value = Decimal(f"{number[1]}.{number[2] or 0}")
    # Nobody has an index above 5 that is a ratio, nor one below 5 that is a percentage: arms are at least 50
    # mmHg and no pressure is above 300.
    hundredths = value if percent or value > 6 else value * 100
    return int((hundredths * 2 + 1) // 2)


def _words(text: str) -> Read | Trouble:
    plain_words = key(text)
    if plain_words in _NOTHING:
        return Read(None)
    if plain_words in TWO_MEANINGS:
        return Trouble(f"“{text[:40]}” has two meanings: {TWO_MEANINGS[plain_words]}", WRITE_ONE)
    if plain_words in _NO_SIGNAL:
        return Read(TypedReading(Outcome.NO_SIGNAL))
    if plain_words in _NOT_OCCLUDABLE:
        return Read(TypedReading(Outcome.NOT_OCCLUDABLE))
    if plain_words in REASON_OF:
        return Read(_not_obtained(NotObtained(REASON_OF[plain_words]), text))
    if plain_words in _NO_REASON:
        return Read(
            TypedReading(Outcome.NOT_OBTAINED, reason=NotObtained.OTHER, reason_text=f"{text[:40]} (table)")
        )
    if doubted := _DOUBTED.fullmatch(text):
        return Trouble(
            f"“{text[:40]}” is a pressure with a sign of doubt",
            f"Write {doubted[1]} if it can be relied on; else write why there is none, or leave it empty.",
        )
    return Trouble(f"“{text[:40]}” is neither a pressure nor a word known here", WRITE_ONE)


def _not_obtained(reason: NotObtained, text: str) -> TypedReading:
    """With the word of the table beside the reason, where it says more than the reason does."""
    said = "" if key(text) == key(str(reason.label)) else text.strip()[:200]
    return TypedReading(Outcome.NOT_OBTAINED, reason=reason, reason_text=said)


def _kilopascals(number: str, site: str, beyond: str = "") -> Read | Trouble:
    """To the nearest half mmHg, which is the finest that is kept. `beyond`: the cuff stopped there."""
    star = "*" if beyond else ""
    kpa = Decimal(number.replace(",", "."))
    mmhg = Decimal(int((kpa * MMHG_PER_KPA * 2 + Decimal("0.5")) // 1)) / 2
    if not mmhg:
        return _through_the_sheet("0", site)
    found = _through_the_sheet(f"{star}{plain(mmhg)}", site)
    if not isinstance(found, Trouble):
        return found
    reason = f"{beyond}{number} kPa is {plain(mmhg)} mmHg: not possible here"
    if isinstance(_through_the_sheet(f"{star}{number}", site), Read):
        return Trouble(reason, f"If it is mmHg write “{beyond}{number} mmHg”; else check the number.")
    return Trouble(reason, "Check the number and its unit.")


def _through_the_sheet(typed: str, site: str) -> Read | Trouble:
    try:
        return Read(read_reading(typed, site))
    except ValidationError as refused:
        said = refused.messages[0].replace(KEPT, "").strip()
        reason, suggestion = _parted(said)
        if refused.code == "zero":
            return Trouble(reason, "Write “no signal” if no flow was found, or why there is no pressure.")
        if refused.code == "kpa":
            return _too_small(typed, site)
        if refused.code == "steps":
            mmhg = Decimal(typed.lstrip("*").replace(",", "."))
            nearest = whole_mmhg(mmhg) if typed.startswith("*") else plain((mmhg * 2).to_integral_value() / 2)
            return Trouble("finer than whole or half mmHg", f"Write {nearest}.")
        return Trouble(reason, suggestion)


def _too_small(typed: str, site: str) -> Trouble:
    """A number too low for mmHg: an index in the wrong column, or kPa."""
    number = Decimal(typed.lstrip("*").replace(",", "."))
    kind = "an arm" if site == Site.ARM else "a foot"
    if number < HIGHEST_INDEX and site != Site.ARM:
        return Trouble(
            f"{typed} is no pressure of {kind} in mmHg; it looks like an index",
            "Write the pressure it was made from; the index belongs in a column of its own.",
        )
    mmhg = whole_mmhg(number * MMHG_PER_KPA)
    return Trouble(
        f"{typed} is no pressure of {kind} in mmHg; it looks like kPa",
        f"If it is kPa write “{typed} kPa” ({mmhg} mmHg); else check the source.",
    )


def _parted(said: str) -> tuple[str, str]:
    """The first sentence, and what follows it."""
    reason, stop, rest = said.partition(". ")
    return (
        (f"{reason}{stop.strip()}", rest)
        if rest
        else (said, "Check it against the source and write it again.")
    )


class CellReader:
    """Reads cells; the same text of the same kind is read once. What is kept is bounded."""

    MOST_KNOWN = 50_000

    def __init__(self, unit: str) -> None:
        self._unit = unit
        self._known: dict[tuple[str, str], Read | Trouble] = {}

    def pressure(self, text: str, site: str) -> Read | Trouble:
        kind = "arm" if site == Site.ARM else site
        found = self._known.get((kind, text))
        if found is None:
            found = read_pressure(text, site, self._unit)
            if len(self._known) < self.MOST_KNOWN:
                self._known[kind, text] = found
        return found


def once(read: Callable[[str], Value], most: int = 50_000) -> Callable[[str], Value]:
    """The same function, which reads the same text once."""
    known: dict[str, Value] = {}

    def remembered(text: str) -> Value:
        if text in known:
            return known[text]
        value = read(text)
        if len(known) < most:
            known[text] = value
        return value

    return remembered
