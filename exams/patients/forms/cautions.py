"""What may be typed of a caution; and the words when it may not."""

from typing import Any

from django import forms

from exams.patients.forms.fields import WRITTEN_DATE, LineField, RoomForm, TypedDateField, one_of
from exams.patients.models import CautionKind, Region, Side

_PLACES = [
    *((f"{side}:{region}", f"{side.label} {region.label}") for side in Side for region in list(Region)[:4]),
    (f":{Region.WHOLE_PERSON}", str(Region.WHOLE_PERSON.label)),
]


class CautionForm(RoomForm):
    """A reason not to inflate a cuff, or to take care."""

    place = one_of("Where", [("", "Choose"), *_PLACES], "Choose where.", widget=forms.Select)
    kind = one_of("Why", [("", "Choose"), *CautionKind.choices], "Choose why.", widget=forms.Select)
    do_not_inflate = one_of(
        "What it asks for",
        [("yes", "Do not inflate a cuff there"), ("no", "Caution: take care")],
        "Choose whether a cuff may be inflated there.",
    )
    note = LineField(label="Note", max_length=200, help_text="Needed if you chose “other”")
    source = LineField(
        label="Who says so",
        max_length=120,
        missing="Write who says so: the patient, a letter, your own examination.",
        help_text="For example: patient; dialysis unit's letter of 3 Oct 2026",
    )
    started_on = TypedDateField(label="Since", help_text=f"If known: {WRITTEN_DATE}")
    review_on = TypedDateField(label="Ask again on", help_text="Leave empty if it will not change")
    also_called = {"side": "place", "region": "place"}

    def values(self) -> dict[str, Any]:
        """What ``services.add_caution`` takes."""
        typed = dict(self.cleaned_data)
        typed["side"], typed["region"] = typed.pop("place").split(":")
        return {**typed, "do_not_inflate": typed["do_not_inflate"] == "yes"}


class StillTrueForm(RoomForm):
    review_on = TypedDateField(label="Ask again on", help_text="Leave empty if it will not change")
