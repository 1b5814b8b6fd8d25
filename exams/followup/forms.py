"""What may be typed of referrals, recalls and promises; and the words when it may not."""

import calendar
import re
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from exams.followup.course import (
    ENDS_CHOSEN,
    ContactOutcome,
    ContactWay,
    Move,
    PromiseKind,
    Urgency,
)
from exams.followup.risk import CATEGORIES, category_words
from exams.followup.targets import LONGEST
from exams.patients.forms import LineField, RoomForm, TypedDateField
from exams.patients.forms.fields import TextField
from exams.patients.models import Side

_SIDES = [*Side.choices, ("", "both, or the whole person")]
_IN_SOME_TIME = re.compile(r"^(?:in )?(\d{1,3}) ?(day|week|month|year)s?$")
_LOST_ITS_PLACE = dict.fromkeys(
    ("required", "invalid", "min_value", "max_value"),
    "This page has lost its place. Open the referral again.",
)
_WHICH_DAY = {"expected": "the day to be seen, if known", "happened": "the day it happened"}
_MOST_AHEAD = {"day": 999, "week": 150, "month": 36, "year": 3}


class DueField(TypedDateField):
    """A day to come, typed as a date or as a time from now: "in 3 months", "2 weeks"."""

    def __init__(self, *, today: date | None = None, **options: Any) -> None:
        options.setdefault("help_text", "For example: in 3 months, 2 weeks, or 25 Nov 2026")
        super().__init__(**options)
        self.today = today

    def to_python(self, value: Any) -> Any:
        found = _IN_SOME_TIME.match(str(value or "").strip().casefold())
        if not found or not found[1].isascii() or self.today is None:
            try:
                return super().to_python(value)
            except ValidationError as error:
                raise ValidationError(f"{error.messages[0]} A time from now will do: in 3 months.") from None
        count, unit = int(found[1]), found[2]
        if count > _MOST_AHEAD[unit]:
            raise ValidationError("This is more than three years ahead. Write a nearer day.")
        if unit in ("day", "week"):
            return self.today + timedelta(days=count * (7 if unit == "week" else 1))
        return _months_after(self.today, count * (12 if unit == "year" else 1))


def _months_after(day: date, months: int) -> date:
    """The same day some months later, or the last of a shorter month: 31 Jan and a month is 28 Feb."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def _choose(label: str, choices: Any, missing: str, **options: Any) -> forms.ChoiceField:
    options.setdefault("widget", forms.RadioSelect)
    errors = {"required": missing, "invalid_choice": missing}
    return forms.ChoiceField(label=label, choices=choices, error_messages=errors, **options)


def _select(label: str, choices: Any, missing: str, *, empty: str = "Choose", **options: Any) -> Any:
    return _choose(label, [("", empty), *choices], missing, widget=forms.Select, **options)


# ---- referrals


class ReferralForm(RoomForm):
    sent_to = LineField(
        label="To",
        max_length=160,
        missing="Say to whom: the team, and the person if you know who.",
        help_text="Team, and person if you know who",
    )
    side = _choose("Limb", _SIDES, "Choose RIGHT, LEFT or both.", required=False)
    urgency = _choose("How soon", Urgency.choices, "Choose how soon. The reasons below may help you.")
    reasons = TextField(
        label="Why, and what you ask",
        max_length=4000,
        missing="Say why. What is known of the foot today is enough.",
        widget=forms.Textarea(attrs={"rows": 10}),
    )


class StepForm(RoomForm):
    """One step of a referral; which fields must be filled hangs on the step, and the service says so."""

    also_called = {"after": "the buttons"}

    after = forms.CharField(required=False)
    seen = forms.IntegerField(
        min_value=1,
        max_value=2**31 - 1,
        widget=forms.HiddenInput,
        error_messages=_LOST_ITS_PLACE,
    )
    words = TextField(label="In words", max_length=2000, widget=forms.Textarea(attrs={"rows": 4}))
    day = TypedDateField(label="Day")
    said_by = LineField(
        label="Told by, if not you",
        max_length=160,
        help_text="Name and role, where the answer came by telephone or letter",
    )
    urgency = _select(
        "How soon, if that changes", Urgency.choices, "Choose one.", empty="as it stands", required=False
    )

    def __init__(self, *args: Any, moves: tuple[Move, ...] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        self.moves = moves
        dated = [move for move in moves if move.day]
        if not dated:
            del self.fields["day"]
        else:
            self.fields["day"].help_text = "; ".join(
                f"“{move.does}”: {_WHICH_DAY[move.day]}" for move in dated
            )
        needed = [f"“{move.does}”" for move in moves if move.words]
        if needed:
            self.fields["words"].help_text = f"Needed for {', '.join(needed)}"

    def clean(self) -> dict[str, Any]:
        if "seen" in self.errors:
            self.add_error(None, self.errors["seen"])
        return super().clean() or self.cleaned_data


class TakeBackForm(RoomForm):
    also_called = {"after": "the buttons"}

    seen = forms.IntegerField(
        min_value=1, max_value=2**31 - 1, widget=forms.HiddenInput, error_messages=_LOST_ITS_PLACE
    )
    because = LineField(
        label="Why it was a slip",
        max_length=300,
        missing="Say why: the reason is kept with the record.",
        help_text="Both stay: the step struck through, and who took it back and why",
    )


# ---- recall


def _categories() -> list[tuple[int, str]]:
    return [(one, category_words(one)) for one in CATEGORIES]


class _CategoryForm(RoomForm):
    def clean_category(self) -> int | None:
        said = self.cleaned_data["category"]
        return int(said) if said != "" else None


class PlanRecallForm(_CategoryForm):
    category = _choose("Foot-risk category", _categories(), "Choose the risk category, 0 to 3.")
    counted_from = TypedDateField(
        label="Counted from", missing="Write the day the feet were seen, or “today”."
    )
    because = LineField(
        label="Why this category",
        max_length=300,
        help_text="For example: feeling lost and a deformed toe. Leave empty if the record says it.",
    )


class SeenForm(_CategoryForm):
    on = TypedDateField(label="Seen on", missing="Write the day, or “today”.")
    how = LineField(
        label="What was done", max_length=200, missing="Say what was done, for example: both feet seen."
    )
    category = _select(
        "Next recall by category", _categories(), "Choose one of the list.", empty="none", required=False
    )
    because = LineField(label="Why this category", max_length=300)


class EndRecallForm(RoomForm):
    how = _select("How it ends", [(one.value, one.label) for one in ENDS_CHOSEN], "Choose how it ends.")
    because = LineField(
        label="Reason", max_length=300, missing="Say why: the reason is kept with the record."
    )


class ContactForm(RoomForm):
    tried_on = TypedDateField(label="Tried on", missing="Write the day, or “today”.")
    way = _select("Way", ContactWay.choices, "Choose in which way.")
    outcome = _select("What came of it", ContactOutcome.choices, "Choose what came of it.")
    words = LineField(label="Note", max_length=300)


# ---- promises


class PromiseForm(RoomForm):
    kind = _select("What is promised", PromiseKind.choices, "Choose what was promised.")
    side = _choose("Limb", _SIDES, "Choose RIGHT, LEFT or both.", required=False)
    words = LineField(
        label="In the words the person heard",
        max_length=300,
        missing="Say what was promised, in the words the person heard.",
    )
    due_on = DueField(label="Kept by", missing="Write by when, for example: in 3 months.")

    def __init__(self, *args: Any, today: date, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["due_on"].today = today  # type: ignore[attr-defined]


class KeptForm(RoomForm):
    how = LineField(label="What was done", max_length=300, missing="Say what was done.")


class CallOffForm(RoomForm):
    because = LineField(
        label="Reason", max_length=300, missing="Say why: the reason is kept with the record."
    )


# ---- the clinic's own figures


class TargetForm(RoomForm):
    key = forms.CharField(widget=forms.HiddenInput, required=False)
    days = forms.IntegerField(
        label="Days",
        required=False,
        min_value=0,
        max_value=LONGEST,
        help_text=f"0 is at once, at most {LONGEST}; empty calls nothing late",
        error_messages=dict.fromkeys(
            ("invalid", "min_value", "max_value"),
            f"Write a whole number from 0 (at once) to {LONGEST}, or leave it empty.",
        ),
    )
    because = LineField(
        label="By which protocol or decision",
        max_length=200,
        missing="Say by which protocol or decision: it is shown beside the figure.",
    )
