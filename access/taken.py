"""The fields of what a program sends and asks, with the words where a value will not do."""

import copy
import re
import unicodedata
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from rest_framework import exceptions, serializers

from access.paging import MOST, USUAL

HIGHEST_NUMBER = 2**63 - 1
# Slips of the keyboard, and what no calendar here can be asked about.
FIRST_YEAR, LAST_YEAR = 1850, 2200


class Strict(serializers.Serializer):
    """Refuses a name it does not know: a misspelt one would otherwise be lost without a word."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, dict):
            unknown = [name for name in data if name not in self.fields]
            if unknown:
                known = ", ".join(self.fields)
                raise exceptions.ValidationError(
                    {unknown[0]: f"This name is not known here. Known are: {known}."}, code="unknown_name"
                )
        return super().to_internal_value(data)


class Choice(serializers.ChoiceField):
    """One of some words. What was sent instead is not repeated."""

    def __init__(self, choices: Sequence[tuple[str, Any]], **more: Any) -> None:
        words = ", ".join(str(code) for code, _ in choices)
        super().__init__(choices, error_messages={"invalid_choice": f"It must be one of: {words}."}, **more)


class Number(serializers.IntegerField):
    """The number of a row."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"min_value": 1, "max_value": HIGHEST_NUMBER, **more})


class Line(serializers.CharField):
    """One line of text: spaces tidied, one spelling for each accented letter, nothing invisible."""

    default_error_messages = {"invisible": "This holds a character that cannot be seen."}

    def to_internal_value(self, data: Any) -> str:
        text = unicodedata.normalize("NFC", re.sub(r"\s+", " ", super().to_internal_value(data)).strip())
        if any(unicodedata.category(letter) in {"Cc", "Cs"} for letter in text):
            self.fail("invisible")
        return text


class Lines(Line):
    """Several lines."""

    def to_internal_value(self, data: Any) -> str:
        lines = serializers.CharField.to_internal_value(self, data).splitlines()
        return "\n".join(super(Lines, self).to_internal_value(line) for line in lines).strip()


class Codes(serializers.ListField):
    """Some of a list's words, kept as one text with a space between them."""

    def __init__(self, choices: Sequence[tuple[str, Any]], **more: Any) -> None:
        super().__init__(child=Choice(choices), **more)

    def to_internal_value(self, data: Any) -> Any:
        return " ".join(dict.fromkeys(super().to_internal_value(data)))

    def to_representation(self, data: Any) -> list[str]:
        return str(data).split()


class Day(serializers.DateField):
    """A day of the calendar, ``2026-11-25``."""

    default_error_messages = {"year": f"The year must be {FIRST_YEAR} to {LAST_YEAR}."}

    def to_internal_value(self, value: Any) -> date:
        day = super().to_internal_value(value)
        if not FIRST_YEAR <= day.year <= LAST_YEAR:
            self.fail("year")
        return day


class Moment(serializers.DateTimeField):
    """A moment with its zone, ``2026-11-25T10:00:00Z``."""

    default_error_messages = {"year": f"The year must be {FIRST_YEAR} to {LAST_YEAR}."}

    def to_internal_value(self, value: Any) -> datetime:
        moment = super().to_internal_value(value)
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            self.fail("year")
        return moment


class Paged(Strict):
    """Which part of a list is wanted."""

    after = serializers.IntegerField(
        min_value=0,
        max_value=HIGHEST_NUMBER,
        default=0,
        help_text="Only what has a higher number: go on from the last one you know.",
    )
    limit = serializers.IntegerField(
        min_value=1, max_value=MOST, default=USUAL, help_text=f"How many at once, at most {MOST}."
    )


class PagedByDay(Paged):
    """The same, between two days."""

    since = Day(required=False, help_text="From this day on, in the clinic's time zone.")
    until = Day(required=False, help_text="Up to this day, which is included.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if "since" in attrs and "until" in attrs and attrs["until"] < attrs["since"]:
            raise serializers.ValidationError({"until": "It is before since."}, code="days_cross")
        return attrs


class PagedOfPatient(PagedByDay):
    """The same, of one patient."""

    patient = Number(required=False, help_text="Only of this patient.")


def corrected(kind: type[Strict], name: str, says: str, **more: serializers.Field) -> type[Strict]:
    """What a correction of ``kind`` takes: any of its fields, none of them wanted, and ``more``.

    ``name`` and ``says`` are its name and words in the description.
    """
    fields: dict[str, Any] = copy.deepcopy(kind._declared_fields)
    for field in fields.values():
        # What a field was made with: a serializer makes its own fields anew from that.
        said = {key: value for key, value in field._kwargs.items() if key != "default"}
        field._kwargs = {**said, "required": False}
    return type(name, (Strict,), {**fields, **more, "__doc__": says, "__module__": kind.__module__})
