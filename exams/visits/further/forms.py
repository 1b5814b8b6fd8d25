"""What may be typed on the pages of further tests."""

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from django import forms

from exams.visits.forms import Words
from exams.visits.further.page import FurtherField, FurtherPage
from exams.visits.further.services import FurtherTyped


class CorrectFurtherForm(forms.Form):
    """Put another value in the place of one of a measured exam, or add one that was forgotten."""

    typed = forms.CharField(label="New value", required=False, strip=False, max_length=300)
    reason = Words(most=200, missing="Say why it is corrected.", label="Why it is corrected")
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: Any, field: FurtherField, **options: Any) -> None:
        super().__init__(*args, **{"initial": {"seen": field.row_id}, **options})
        self.name = field.name
        offered = [(one.value, one.words) for one in field.choices]
        if field.kind == "yes":
            offered = [("yes", "yes")]
        if offered:
            self.fields["typed"] = forms.ChoiceField(
                label="New value", required=False, choices=[("", ""), *offered]
            )
        self.fields["typed"].help_text = "Empty takes it back without another in its place."

    def entry(self) -> FurtherTyped:
        """What was sent, as the service takes it; call after `is_valid`."""
        said = self.cleaned_data
        return FurtherTyped(self.name, said["typed"], uuid4(), said["seen"], reason=said["reason"])


def changed_entries(page: FurtherPage, posted: Mapping[str, str]) -> list[FurtherTyped]:
    """What differs from the page in a whole form sent without JavaScript; a field not sent stays as it is."""
    entries = []
    for field in page.fields:
        seen = posted.get(f"seen.{field.name}", "")
        # A box that is not ticked is not sent at all; only its revision tells that it was on the page.
        ticked = field.kind == "yes" and bool(seen)
        typed = posted.get(field.name, "" if ticked else field.typed)[:400]
        if typed.strip() == field.typed:
            continue
        known = seen.isascii() and seen.isdecimal() and len(seen) < 19
        entries.append(FurtherTyped(field.name, typed, uuid4(), int(seen) if known else 0))
    return entries
