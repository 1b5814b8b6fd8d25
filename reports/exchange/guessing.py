"""What the numbers and dates of a table themselves say of their unit and order. Pure."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from reports.exchange.columns import Mapping
from reports.exchange.sheets import Row

_NUMBER = re.compile(r"\s*(\d{1,4})(?:[.,](\d{1,3}))?\s*", re.ASCII)
_DATE = re.compile(r"\s*(\d{1,2})\s*[-/.]\s*(\d{1,2})\s*[-/.]\s*\d{4}\s*", re.ASCII)
# An arm is taken from 50 to 300 mmHg, which is 6.7 to 40 kPa: no number can be both.
HIGHEST_KPA = 40
LOWEST_ARM_MMHG = 50
LOOKED_AT = 2_000


@dataclass(frozen=True)
class Guess:
    """What is certain ("" where it must be asked), with the words that ask."""

    unit: str = ""
    unit_words: str = ""
    date_order: str = ""
    dates_are_open: bool = False
    # Some have the day first, some the month: one order cannot be right for all.
    dates_are_mixed: bool = False


def guessed(mapping: Mapping, rows: Iterable[Row]) -> Guess:
    """From the first rows of a table, LOOKED_AT at most."""
    arms: list[Decimal] = []
    others: list[Decimal] = []
    days: list[tuple[int, int]] = []
    for count, row in enumerate(rows):
        if count >= LOOKED_AT:
            break
        for name, cell in zip(mapping.fields, row.cells, strict=False):
            if name in ("exam_date", "birth_date"):
                if match := _DATE.fullmatch(cell.text):
                    days.append((int(match[1]), int(match[2])))
            elif name.count(".") == 2 and (number := _NUMBER.fullmatch(cell.text)):
                value = Decimal(f"{number[1]}.{number[2] or 0}")
                (arms if ".arm." in name else others).append(value)
    unit, words = _unit(arms, others)
    order, are_open = _order(days)
    mixed = any(first > 12 for first, _ in days) and any(second > 12 for _, second in days)
    return Guess(unit, words, order, are_open, mixed)


def _unit(arms: list[Decimal], others: list[Decimal]) -> tuple[str, str]:
    if arms and min(arms) >= LOWEST_ARM_MMHG:
        return "mmhg", ""
    if arms and max(arms) <= HIGHEST_KPA:
        return "kpa", ""
    if arms:
        return "", f"The arms run from {min(arms)} to {max(arms)}, which fits neither."
    if others and max(others) > HIGHEST_KPA:
        return "mmhg", ""
    if others:
        return "", f"The pressures run from {min(others)} to {max(others)}, which can be either."
    return "", "Choose one."


def _order(days: list[tuple[int, int]]) -> tuple[str, bool]:
    first, second = any(a > 12 for a, _ in days), any(b > 12 for _, b in days)
    if first != second:
        return ("dmy" if first else "mdy"), False
    return "", bool(days) and any(a != b for a, b in days)
