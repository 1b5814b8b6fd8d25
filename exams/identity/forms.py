"""What may be typed where identity is corrected, and the words when it may not."""

from collections.abc import Sequence
from typing import Any

from django import forms

from exams.identity.queries import Asked, ToDecide
from exams.patients.forms import LineField, RoomForm

_MOST = 2**31 - 1
_WHY = "Why you are sure"


def _because(label: str, help_text: str) -> LineField:
    return LineField(
        label=label,
        max_length=200,
        missing="Say why: the reason is kept with both records.",
        help_text=help_text,
    )


def _radio(label: str, choices: Sequence[tuple[str, str]], missing: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=choices,
        widget=forms.RadioSelect,
        error_messages={"required": missing, "invalid_choice": missing},
    )


class MergeForm(RoomForm):
    """What each differing field shall say, and why these are one person."""

    seen_one = forms.IntegerField(min_value=1, max_value=_MOST, widget=forms.HiddenInput)
    seen_other = forms.IntegerField(min_value=1, max_value=_MOST, widget=forms.HiddenInput)
    because = _because(_WHY, "For example: same birth date and address, confirmed by the patient")

    def __init__(self, *args: Any, decide: Sequence[ToDecide], **options: Any) -> None:
        super().__init__(*args, **options)
        self.decide = decide
        for one in decide:
            self.fields[one.key] = _radio(
                one.label,
                [("survivor", one.survivor), ("merged", one.merged)],
                "The two records differ here. Choose which is right.",
            )
            self.initial.setdefault(one.key, one.likely)

    def keep(self) -> dict[str, str]:
        return {one.key: self.cleaned_data[one.key] for one in self.decide}

    def rows(self) -> list[tuple[ToDecide, Any]]:
        """Each thing to decide with its two choices, for a table of two columns."""
        return [(one, self[one.key]) for one in self.decide]

    def renew(self, one: int, other: int) -> None:
        """Let the same decisions be sent again, now in the knowledge of the newer records."""
        self.data = {**dict(self.data.items()), "seen_one": str(one), "seen_other": str(other)}


class DifferentForm(RoomForm):
    because = _because("These are two people because …", "For example: twin sister; father and son")


class UndoForm(RoomForm):
    """Where everything goes that was recorded after the merge, and why the two are parted."""

    because = _because("Why they are parted again", "For example: twins; the identifier was mistyped")

    def __init__(self, *args: Any, asked: Sequence[Asked], **options: Any) -> None:
        super().__init__(*args, **options)
        self.asked = asked
        for one in asked:
            self.fields[one.key] = _radio(
                one.words, one.choices, "This was recorded after the merge. Say where it belongs."
            )
        self.order_fields([one.key for one in asked])

    def places(self) -> dict[str, str]:
        return {one.key: self.cleaned_data[one.key] for one in self.asked}


class WrongPersonForm(RoomForm):
    """Whose exam it really was, and how that is known."""

    patient = forms.IntegerField(
        min_value=1,
        max_value=_MOST,
        widget=forms.RadioSelect,
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), "Find the right person above and choose them."
        ),
    )
    because = _because(
        "How it happened, and how you know", "For example: two files were open; told by the patient"
    )
