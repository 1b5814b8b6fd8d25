"""Dates as people type them. The day comes before the month; the year has four figures. Pure, no database."""

import re
from datetime import date

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_FULL = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)

_YEAR_FIRST = r"(?P<y1>[0-9]{4})\s*[-/.]\s*(?P<m1>[0-9]{1,2})\s*[-/.]\s*(?P<d1>[0-9]{1,2})"
_DAY_FIRST = r"(?P<d2>[0-9]{1,2})\s*[-/.\s]\s*(?P<m2>[0-9]{1,2})\s*[-/.\s]\s*(?P<y2>[0-9]{4})"
_MONTH_NAMED = r"(?P<d3>[0-9]{1,2})(?:st|nd|rd|th)?[\s\-./]*(?P<m3>[a-z]{3,9})\.?,?[\s\-./]*(?P<y3>[0-9]{4})"
_MONTH_NAMED_FIRST = r"(?P<m4>[a-z]{3,9})\.?\s+(?P<d4>[0-9]{1,2})(?:st|nd|rd|th)?,?\s+(?P<y4>[0-9]{4})"
_DATE = re.compile(
    rf"(?<![0-9a-z])(?:{_YEAR_FIRST}|{_DAY_FIRST}|{_MONTH_NAMED}|{_MONTH_NAMED_FIRST})(?![0-9a-z])", re.ASCII
)
_SHORT_YEAR = re.compile(r"[0-9]{1,2}[-/.\s]+(?:[0-9]{1,2}|[a-z]{3,9})[-/.\s]+[0-9]{2}", re.ASCII)

# "about 2019", "2019", "Mar 2019", "about March 2019", "03/2019", "2019-03": the day, or the month, unknown.
_ABOUT = r"(?:(?:about|around|circa|ca\.?|c\.?|~)\s*)?"
_YEAR_ONLY = re.compile(rf"{_ABOUT}(?P<y>[0-9]{{4}})", re.ASCII)
_MONTH_ONLY = re.compile(
    rf"{_ABOUT}(?:(?P<m1>[a-z]{{3,9}})\.?,?\s*(?P<y1>[0-9]{{4}})|(?P<m2>[0-9]{{1,2}})\s*[-/.]\s*(?P<y2>[0-9]{{4}})"
    r"|(?P<y3>[0-9]{4})\s*[-/.]\s*(?P<m3>[0-9]{1,2}))",
    re.ASCII,
)

HOW = "Write it like 25 Nov 2026, 25/11/2026 or 2026-11-25."


class NotADate(ValueError):
    """What was typed is no date; the words say why and how to write one."""


def read_date(text: str) -> date:
    """The date that ``text`` is.

    Parameters
    ----------
    text : str
        As ``25 Nov 2026``, ``25 November 2026``, ``Nov 25, 2026``, ``25/11/2026``, ``25.11.2026`` or
        ``2026-11-25``.

    Raises
    ------
    NotADate
        If it is none of these, or names a day that does not exist (31 Apr).
    """
    typed = text.strip().casefold()
    if _SHORT_YEAR.fullmatch(typed):
        raise NotADate(
            f"“{text.strip()}” can be two different years: write the year with four figures. {HOW}"
        )
    found = _DATE.fullmatch(typed)
    if not found:
        raise NotADate(f"“{text.strip()[:40]}” is not a date we can read. {HOW}")
    return _as_date(found, text.strip())


def read_about(text: str) -> tuple[date, str]:
    """The first day that ``text`` may mean, and how exactly it says: "day", "month" or "year".

    Everything ``read_date`` reads, and "about 2019", "2019", "Mar 2019", "about March 2019", "03/2019".

    Raises
    ------
    NotADate
    """
    typed = text.strip().casefold()
    if found := _YEAR_ONLY.fullmatch(typed):
        return _first_day(found["y"], "1", text), "year"
    if found := _MONTH_ONLY.fullmatch(typed):
        parts = {name[0]: value for name, value in found.groupdict().items() if value}
        return _first_day(parts["y"], parts["m"], text), "month"
    return read_date(text), "day"


def date_within(text: str) -> tuple[date | None, str, str]:
    """The first date inside ``text``, how it was typed, and what is left without it.

    ``(None, "", text)`` if there is no date in it.
    """
    folded = text.casefold()
    for found in _DATE.finditer(folded):
        try:
            day = _as_date(found, found.group())
        except NotADate:
            continue
        return day, found.group(), f"{folded[: found.start()]} {folded[found.end() :]}"
    return None, "", text


def written(day: date) -> str:
    """A date as every page shows it: 5 Nov 2026."""
    return f"{day.day} {_MONTHS[day.month - 1].title()} {day.year}"


def _as_date(found: re.Match[str], typed: str) -> date:
    parts = {name[0]: value for name, value in found.groupdict().items() if value}
    try:
        return date(int(parts["y"]), _month(parts["m"]), int(parts["d"]))
    except ValueError:
        raise NotADate(f"There is no day “{typed[:40]}” in the calendar. {HOW}") from None


def _first_day(year: str, month: str, typed: str) -> date:
    try:
        return date(int(year), _month(month), 1)
    except ValueError:
        raise NotADate(f"There is no month “{typed.strip()[:40]}” in the calendar. {HOW}") from None


def _month(text: str) -> int:
    if text.isdigit():
        return int(text)
    for number, (short, full) in enumerate(zip(_MONTHS, _FULL, strict=True), start=1):
        if text == short or (len(text) > 3 and full.startswith(text)):
            return number
    raise ValueError(text)
