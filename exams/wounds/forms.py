"""What may be typed about a wound; and the words when it may not."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from exams.patients.events import Side
from exams.patients.forms.fields import (
    AboutDateField,
    LineField,
    ReasonForm,
    RoomForm,
    TypedDateField,
    one_of,
)
from exams.patients.typed_date import written
from exams.wounds.codes import (
    AreaHow,
    Cause,
    DeepSign,
    Depth,
    ExplainedBy,
    Gangrene,
    InfectionJudged,
    InfectionLooked,
    LocalSign,
    Offloading,
    Status,
    Tissue,
    Yes,
)
from exams.wounds.models import MOST_MM, Assessment, WoundEntry
from exams.wounds.places import PLACES, SOLE, TOP
from exams.wounds.tracing import DrawnLine, TraceRefused, read_points

__all__ = [
    "AssessmentForm",
    "CloseForm",
    "CorrectAssessmentForm",
    "CorrectWoundForm",
    "LostForm",
    "PreTestForm",
    "ReasonForm",
    "SalvageForm",
    "TraceForm",
    "WoundForm",
]

_CHOOSE = ("", "Choose")
_VIEW_WORDS = {SOLE: "sole", TOP: "top and ankle", "": "elsewhere"}


def _places() -> list[Any]:
    """Every place of both feet, by foot and view, as the list shows them."""
    groups = [
        (
            f"{side.label}, {words}",
            [(f"{side.value}:{one.code}", f"{side.label} {one.words}") for one in PLACES if one.view == view],
        )
        for side in Side
        for view, words in _VIEW_WORDS.items()
    ]
    return [_CHOOSE, *groups]


class NumberField(forms.Field):
    """A whole or decimal number within limits; its unit stands in the label. Empty is None."""

    def __init__(self, *, low: int, high: int, places: int = 0, **options: Any) -> None:
        self.low, self.high, self.places = low, high, places
        mode = "decimal" if places else "numeric"
        box = forms.TextInput(attrs={"class": "short", "size": 6, "inputmode": mode, "autocomplete": "off"})
        super().__init__(required=False, widget=box, **options)

    def to_python(self, value: Any) -> Any:
        text = str(value if value is not None else "").strip().replace(",", ".")
        if not text:
            return None
        if not text.isascii() or not text.replace(".", "", 1).isdigit():
            raise ValidationError(
                f"“{text[:20]}” is not a number. Write figures only, for example {self.low + 1}."
            )
        number = Decimal(text)
        if number.as_tuple().exponent < -self.places:  # type: ignore[operator]
            raise ValidationError(
                "Write a whole number." if not self.places else "Write at most one decimal."
            )
        if not self.low <= number <= self.high:
            raise ValidationError(
                f"{text} is not possible here: between {self.low} and {self.high}. Check the unit."
            )
        return number if self.places else int(number)


def _ticks(label: str, choices: Iterable[Any], **options: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label, choices=list(choices), required=False, widget=forms.CheckboxSelectMultiple, **options
    )


def _answer(label: str, **options: Any) -> forms.ChoiceField:
    return one_of(label, Yes.choices, "Choose one; “not known” is an answer.", initial=Yes.UNKNOWN, **options)


class WoundForm(RoomForm):
    """Where a wound is, why and since when."""

    place = one_of("Where", _places(), "Choose where the wound is.", widget=forms.Select)
    cause = one_of(
        "Cause", [_CHOOSE, *Cause.choices], "Choose one; “not known yet” is an answer.", widget=forms.Select
    )
    began_on = AboutDateField(
        label="Wound since",
        missing="Write since when, as well as it is known: 25 Nov 2026, Nov 2026, about 2019.",
    )
    presented_on = TypedDateField(
        label="First shown to a professional on", help_text="Anywhere, not only here. Leave empty for today"
    )
    note = LineField(label="Note", max_length=200)
    recurrence_of = forms.ChoiceField(label="The same wound again?", required=False)
    also_called = {"side": "place", "recurrence_of_id": "recurrence_of"}

    def __init__(self, *args: Any, healed: Sequence[WoundEntry] = (), **options: Any) -> None:
        super().__init__(*args, **options)
        known = [
            (str(one.wound_id), f"{one.words}, closed {written(one.closed_on)}")
            for one in healed
            if one.closed_on
        ]
        if known:
            self.fields["recurrence_of"].choices = [("", "no, a new place"), *known]  # type: ignore[attr-defined]
        else:
            del self.fields["recurrence_of"]

    def values(self) -> dict[str, Any]:
        """What ``services.record_wound`` takes, the recurrence as a number."""
        typed = dict(self.cleaned_data)
        typed["side"], typed["place"] = typed["place"].split(":")
        typed["began_on"], typed["began_precision"] = typed["began_on"]
        chosen = typed.pop("recurrence_of", "")
        typed["recurrence_of_id"] = int(chosen) if chosen else None
        return typed


class CorrectWoundForm(WoundForm):
    """How it really was, and why it is changed."""

    status = one_of("How it stands", Status.choices, "Choose how it stands.")
    closed_on = TypedDateField(label="Closed on", help_text="Empty while it is open")
    reason = ReasonForm.base_fields["reason"]

    @classmethod
    def of(cls, entry: WoundEntry, healed: Sequence[WoundEntry], **options: Any) -> "CorrectWoundForm":
        said = {
            "place": f"{entry.side}:{entry.place}",
            "cause": entry.cause,
            "began_on": entry.dated.words,
            "presented_on": entry.presented_on,
            "note": entry.note,
            "recurrence_of": str(entry.recurrence_of_id or ""),
            "status": entry.status,
            "closed_on": entry.closed_on,
        }
        return cls(initial=said, healed=healed, **options)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        status, closed = cleaned.get("status"), cleaned.get("closed_on")
        if status == Status.OPEN and closed:
            self.add_error(
                "closed_on", "An open wound has no day on which it closed. Empty this, or choose how."
            )
        if status and status != Status.OPEN and not closed and "closed_on" not in self.errors:
            self.add_error("closed_on", "Write the day on which it closed.")
        if not cleaned.get("presented_on") and "presented_on" not in self.errors:
            self.add_error("presented_on", "Write the day it was first shown to a professional.")
        return cleaned


class CloseForm(RoomForm):
    """That a wound is over, and since when."""

    status = one_of("What became of it", Status.choices[1:], "Choose what became of it.")
    closed_on = TypedDateField(label="On", missing="Write the day, or today.", initial="today")


class AssessmentForm(RoomForm):
    """How a wound was found on a day."""

    assessed_on = TypedDateField(label="Seen on", missing="Write the day, or today.", initial="today")
    length_mm = NumberField(label="Length, mm", low=1, high=MOST_MM, help_text="The longest")
    width_mm = NumberField(label="Width, mm", low=1, high=MOST_MM, help_text="The widest across it")
    area_mm2 = NumberField(
        label="Area traced elsewhere, mm²",
        low=1,
        high=200_000,
        help_text="Counts before length × width; 1 cm² is 100",
    )
    size_confirmed = forms.BooleanField(label="The size is right, it did change like this", required=False)
    picture = forms.FileField(
        label="Photograph",
        required=False,
        help_text="JPEG, PNG or WebP. Lay a ruler or scale beside the wound to trace its area afterwards.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    photograph = forms.IntegerField(required=False, min_value=1, max_value=2**53, widget=forms.HiddenInput)
    depth = one_of(
        "Deepest layer seen or probed", Depth.choices, "Choose the deepest layer; covered is an answer."
    )
    extensive = _answer("Extensive", help_text="Your judgement: WIfI gives no size")
    gangrene = one_of("Dead tissue (gangrene)", Gangrene.choices, "Choose one; “none” is an answer.")
    tissue = _ticks("Tissue", Tissue.choices)
    infection_looked = one_of(
        "What you found", InfectionLooked.choices, "Choose what you found; “not looked” is an answer."
    )
    local_signs = _ticks("Signs around the wound", LocalSign.choices)
    redness_mm = NumberField(
        label="Redness reaches, mm", low=0, high=MOST_MM, help_text="From the edge of the wound; 0 for none"
    )
    deep_signs = _ticks("Deeper signs", DeepSign.choices)
    bone_infection = _answer("Bone infected (osteomyelitis)")
    explained_by = _ticks("Explained by something else instead", ExplainedBy.choices)
    celsius = NumberField(label="Temperature, °C", low=25, high=45, places=1)
    heart_rate = NumberField(label="Heart rate, a minute", low=20, high=300)
    breaths = NumberField(label="Breaths, a minute", low=4, high=80)
    white_cells = NumberField(label="White cells, 10⁹ a litre", low=0, high=500, places=1)
    infection_judged = one_of(
        "Grade given by eye",
        [("", "leave it to the signs"), *InfectionJudged.choices],
        "Choose one, or leave it to the signs.",
        widget=forms.Select,
        required=False,
    )
    judged_because = LineField(label="Why, if the signs say otherwise", max_length=200)
    pulses = _answer("A foot pulse felt")
    feeling_lost = _answer("Protective feeling lost")
    deformity = _answer("Deformity of the foot")
    offloading = one_of(
        "Offloading",
        [_CHOOSE, *Offloading.choices],
        "Choose one; “none yet” is an answer.",
        widget=forms.Select,
    )
    dressing = LineField(label="Dressing", max_length=200)
    note = LineField(label="Note", max_length=400)
    also_called = {
        "trace": "area_mm2",
        "photograph_id": "picture",
        "photograph": "picture",
        "taken_on": "assessed_on",
        "area_how": "area_mm2",
    }

    # In the order asked; the template shows each group under its heading.
    GROUPS = (
        ("Day", ("assessed_on",)),
        ("Size", ("length_mm", "width_mm", "area_mm2")),
        ("Depth and tissue", ("depth", "extensive", "gangrene", "tissue")),
        ("Infection", ("infection_looked", "local_signs", "redness_mm", "deep_signs", "bone_infection")),
        ("The foot", ("pulses", "feeling_lost", "deformity")),
        ("Care", ("offloading", "dressing", "note")),
    )
    FURTHER_INFECTION = (
        "celsius",
        "heart_rate",
        "breaths",
        "white_cells",
        "explained_by",
        "infection_judged",
        "judged_because",
    )

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(title, [self[name] for name in names]) for title, names in self.GROUPS]

    @property
    def further_infection(self) -> list[forms.BoundField]:
        return [self[name] for name in self.FURTHER_INFECTION]

    @property
    def further_open(self) -> bool:
        """Whether the folded part holds something typed or wrong."""
        return any(self[name].value() or self[name].errors for name in self.FURTHER_INFECTION)

    @property
    def asks_about_size(self) -> bool:
        return any(self.has_error(name, "tenfold") for name in ("length_mm", "area_mm2")) or bool(
            self["size_confirmed"].value()
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("infection_looked") in (InfectionLooked.NONE, InfectionLooked.NOT_LOOKED):
            for name in ("local_signs", "deep_signs", "explained_by", "redness_mm"):
                if cleaned.get(name):
                    self.add_error(
                        "infection_looked",
                        "Signs are entered below. Choose “the signs below”, or clear them.",
                    )
                    break
        return cleaned

    def values(self) -> dict[str, Any]:
        """What ``services.assess_wound`` takes, without the picture."""
        typed = dict(self.cleaned_data)
        typed.pop("picture")
        typed["photograph_id"] = typed.pop("photograph")
        typed["area_how"] = AreaHow.TRACED if typed["area_mm2"] is not None else ""
        for name in ("tissue", "local_signs", "deep_signs", "explained_by"):
            typed[name] = " ".join(typed[name])
        if typed["infection_looked"] != InfectionLooked.SIGNS:
            typed["redness_mm"] = None
        return typed

    @classmethod
    def after(cls, last: Assessment | None, **options: Any) -> "AssessmentForm":
        """An empty form that keeps what seldom changes from visit to visit."""
        kept = ("feeling_lost", "deformity", "offloading", "dressing")
        initial = {name: getattr(last, name) for name in kept} if last else {}
        return cls(initial=initial, **options)


class CorrectAssessmentForm(AssessmentForm):
    """How it really was, and why it is changed."""

    reason = ReasonForm.base_fields["reason"]

    @classmethod
    def of(cls, found: Assessment, **options: Any) -> "CorrectAssessmentForm":
        said: dict[str, Any] = {name: getattr(found, name, None) for name in cls.base_fields}
        for name in ("tissue", "local_signs", "deep_signs", "explained_by"):
            said[name] = getattr(found, name).split()
        said["photograph"] = found.photograph_id
        if found.area_how != AreaHow.TRACED:
            said["area_mm2"] = None
        return cls(initial=said, **options)


class TraceForm(RoomForm):
    """The edge of a wound marked on its photograph, and a length that is known there."""

    points = forms.CharField(label="Points around the edge", required=False, max_length=8000)
    scale = forms.CharField(label="Both ends of the scale", required=False, max_length=200)
    scale_mm = NumberField(label="Length between the two ends, mm", low=5, high=300)
    size_confirmed = forms.BooleanField(label="The size is right, it did change like this", required=False)
    also_called = {"trace": "points", "length_mm": "points"}
    line: DrawnLine

    @property
    def asks_about_size(self) -> bool:
        return self.has_error("points", "tenfold") or bool(self["size_confirmed"].value())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if self.errors:
            return cleaned
        if cleaned.get("scale_mm") is None:
            self.add_error("scale_mm", "Write how long the scale is between the two ends, in millimetres.")
            return cleaned
        try:
            scale = read_points(cleaned["scale"])
            self.line = DrawnLine(read_points(cleaned["points"]), scale, float(cleaned["scale_mm"]))
        except TraceRefused as refused:
            self.add_error("points", str(refused))
        return cleaned


class SalvageForm(RoomForm):
    """A clinician's judgement that a foot cannot be saved, or that this is taken back."""

    side = forms.ChoiceField(choices=Side.choices, widget=forms.HiddenInput)
    holds = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")], widget=forms.HiddenInput)
    because = LineField(label="Why", max_length=200, missing="Say why: the reason is kept with the record.")
    also_called = {"reason": "because"}


class PreTestForm(RoomForm):
    """The chance of healing before the test, chosen by a person, where the criteria supply ratios."""

    chance = NumberField(label="Chance of healing before the test, percent", low=1, high=99)

    @property
    def percent(self) -> int | None:
        return self.cleaned_data.get("chance") if self.is_valid() else None


class LostForm(RoomForm):
    """That somebody is no longer followed."""

    ended_on = TypedDateField(label="Last known on", missing="Write the day, or today.")
    because = LineField(label="Why", max_length=200, missing="Say why: the reason is kept with the record.")
    also_called = {"reason": "because"}


def place_from(text: str) -> str:
    """A place named in an address, if it is one: ``right:toe_1_sole``."""
    known = {f"{side.value}:{one.code}" for side in Side for one in PLACES}
    return text if text in known else ""


def as_day(value: Any, today: date) -> date:
    return value if isinstance(value, date) else today
