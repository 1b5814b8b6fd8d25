"""The fields that the forms of a record are made of, and the form that takes back what a service refuses."""

import re
import unicodedata
from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from access import clock
from exams.patients.typed_date import NotADate, read_about, read_date, written

_TOO_LONG = "Shorten this to %(limit_value)d characters; it has %(show_value)d."
WRITTEN_DATE = "25 Nov 2026, 25/11/2026 or 2026-11-25"


class LineField(forms.CharField):
    """One line of text: spaces tidied, one spelling for each accented letter, nothing invisible."""

    def __init__(self, *, missing: str = "", **options: Any) -> None:
        errors = {"required": missing, "max_length": _TOO_LONG}
        super().__init__(required=bool(missing), error_messages=errors, **options)

    def to_python(self, value: Any) -> str:
        text = unicodedata.normalize("NFC", re.sub(r"\s+", " ", str(value or "")).strip())
        return _refuse_invisible(text)


class TextField(LineField):
    """Several lines."""

    widget = forms.Textarea

    def to_python(self, value: Any) -> str:
        lines = str(value or "").splitlines()
        return "\n".join(LineField.to_python(self, line) for line in lines).strip()


class TypedDateField(forms.CharField):
    """A date typed in any of the usual ways, or "today"; cleaned to a ``date``, or None if left empty."""

    def __init__(self, *, missing: str = "", **options: Any) -> None:
        options.setdefault("help_text", f"For example {WRITTEN_DATE}")
        options.setdefault(
            "widget", forms.TextInput(attrs={"class": "short", "size": 16, "autocomplete": "off"})
        )
        super().__init__(required=bool(missing), error_messages={"required": missing}, **options)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, date):
            return value
        text = str(value or "").strip()
        if not text:
            return None
        if text.casefold() == "today":
            return clock.now().astimezone(timezone.get_current_timezone()).date()
        try:
            return read_date(_refuse_invisible(text))
        except NotADate as error:
            raise ValidationError(str(error), code="not_a_date") from None

    def prepare_value(self, value: Any) -> Any:
        return written(value) if isinstance(value, date) else value


class AboutDateField(TypedDateField):
    """The same, or only a month or year ("Mar 2019", "about 2019"); cleaned to first day and precision."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("help_text", "25 Nov 2026, Nov 2026 or about 2019")
        super().__init__(**options)

    def to_python(self, value: Any) -> Any:
        try:
            first, precision = read_about(_refuse_invisible(str(value or "").strip()))
        except NotADate:
            try:
                day = super().to_python(value)
            except ValidationError as error:
                raise ValidationError(
                    f"{error.messages[0]} A month or year will do: Nov 2026, about 2019."
                ) from None
            return (day, "day") if day else None
        return first, precision


def _refuse_invisible(text: str) -> str:
    # Controls and half characters: a database may refuse them, and nobody can see or search them.
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in text):
        raise ValidationError("This holds a character that cannot be seen. Type it again instead of pasting.")
    return text


def one_of(label: str, choices: Iterable[Any], missing: str, **options: Any) -> forms.ChoiceField:
    options.setdefault("widget", forms.RadioSelect)
    errors = {"required": missing, "invalid_choice": missing}
    return forms.ChoiceField(label=label, choices=list(choices), error_messages=errors, **options)


class RoomForm(forms.Form):
    """A form that can take back what a service refuses."""

    use_required_attribute = False
    # Names a service uses for a field that carries another name here.
    also_called: dict[str, str] = {}

    def __init__(self, *args: Any, **options: Any) -> None:
        options.setdefault("label_suffix", "")
        super().__init__(*args, **options)

    def take(self, error: ValidationError) -> None:
        """Put what a service refused beside the field it is about, or above the form."""
        if not hasattr(error, "error_dict"):
            self.add_error(None, error)
            return
        for name, errors in error.error_dict.items():
            place = self.also_called.get(name, name)
            self.add_error(place if place in self.fields else None, errors)


class ReasonForm(RoomForm):
    """A reason, asked for wherever something is taken out of use."""

    reason = LineField(label="Reason", max_length=200, missing="Say why: the reason is kept with the record.")
