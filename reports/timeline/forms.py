"""What may be asked of the limb timeline: a past day, and two exams to lay side by side."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from exams.patients.forms import TypedDateField


class KnownOnForm(forms.Form):
    """The day on which the record was as it is to be shown; empty for today."""

    known_on = TypedDateField(label="The record as known on")

    def __init__(self, *args: Any, today: date, **options: Any) -> None:
        super().__init__(*args, **options)
        self.today = today

    def clean_known_on(self) -> date | None:
        day: date | None = self.cleaned_data["known_on"]
        if day is not None and day > self.today:
            raise forms.ValidationError("That day is still to come. Choose today or an earlier day.")
        return day

    @property
    def day(self) -> date | None:
        """The day asked for; None for today, and where what was typed is no day of the past."""
        return self.cleaned_data.get("known_on") if self.is_valid() else None


class TwoExamsForm(forms.Form):
    """Two different exams of one patient; without a choice the newest two."""

    def __init__(self, *args: Any, exams: Sequence[tuple[int, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        unknown = {"invalid_choice": "That exam is not one of this patient. Choose from the list."}
        for name, label in (("earlier", "One exam"), ("later", "Another exam")):
            self.fields[name] = forms.TypedChoiceField(
                label=label, choices=list(exams), coerce=int, empty_value=None, error_messages=unknown
            )

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        if found.get("earlier") is not None and found.get("earlier") == found.get("later"):
            self.add_error("later", "Both are the same exam. Choose another one.")
        return found
