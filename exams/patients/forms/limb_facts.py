"""What may be typed of a dated fact of a limb, or an event; and the words when it may not."""

from typing import Any

from django import forms

from exams.patients.events import APPROACHES, DEVICES, GRADES, LEVELS, OF_ONE_TOE, VESSELS, FactKind, Toe
from exams.patients.forms.fields import AboutDateField, LineField, RoomForm, TypedDateField, one_of
from exams.patients.models import LimbFact, Side

# The part of one choice after its kind: of an amputation the level and the toe, of the others one word.
_DETAIL = {
    FactKind.FOOT_INFECTION: "grade",
    FactKind.REVASCULARISATION: "approach",
    FactKind.AMPUTATION: "level",
}
_WHOLE_PERSON = "person"
_SIDES = [*Side.choices, (_WHOLE_PERSON, "whole person")]


def _kinds(*kinds: FactKind) -> list[tuple[str, str]]:
    return [(str(kind), _capitalised(kind.label)) for kind in kinds]


def _of_toes() -> list[tuple[str, str]]:
    each = [(f"{FactKind.AMPUTATION}:toe:{toe.value}", f"{toe.label} amputated or absent") for toe in Toe]
    rays = [(f"{FactKind.AMPUTATION}:ray:{toe.value}", f"{toe.label} and its ray amputated") for toe in Toe]
    higher = [(f"{FactKind.AMPUTATION}:{code}", words) for code, words in LEVELS if code not in OF_ONE_TOE]
    return [(code, _capitalised(words)) for code, words in (*each, *rays, *higher)]


def _capitalised(words: Any) -> str:
    return f"{str(words)[:1].upper()}{str(words)[1:]}"


_WHAT = [
    ("", "Choose"),
    (
        "Of the foot or leg",
        [
            *_kinds(FactKind.OPEN_WOUND, FactKind.GANGRENE, FactKind.REST_PAIN, FactKind.FOOT_INFECTION),
            *((f"{FactKind.FOOT_INFECTION}:{code}", f"Foot infection, {words}") for code, words in GRADES),
            *_kinds(FactKind.CHARCOT, FactKind.OEDEMA),
        ],
    ),
    (
        "Vessels treated",
        [
            *(
                (f"{FactKind.REVASCULARISATION}:{code}", f"Revascularisation, {words}")
                for code, words in APPROACHES
            ),
            (str(FactKind.REVASCULARISATION), "Revascularisation, not known how"),
        ],
    ),
    ("Amputated", _of_toes()),
    ("Of the arm", _kinds(FactKind.FISTULA)),
    ("Of the whole person", _kinds(FactKind.DIALYSIS, FactKind.ARRHYTHMIA)),
]


class FactForm(RoomForm):
    """A dated fact of one limb, or an event in its life."""

    side = one_of("Limb", _SIDES, "Choose RIGHT, LEFT or whole person.")
    what = one_of("What", _WHAT, "Choose what was found or done.", widget=forms.Select)
    started_on = AboutDateField(
        label="When, or since when", missing="Write when; “about 2019” or “Mar 2019” will do, or today."
    )
    source = LineField(
        label="Who says so",
        max_length=120,
        missing="Write who says so: your own examination, the patient, a letter.",
        widget=forms.TextInput(attrs={"list": "fact-sources", "autocomplete": "off"}),
        help_text="For example: seen today; patient; ward letter",
    )
    note = LineField(label="Note", max_length=200, help_text="For example where on the foot")
    osteomyelitis = forms.BooleanField(
        label="The infection has reached the bone (osteomyelitis)",
        required=False,
        help_text="Only of a foot infection, moderate or severe; leave it empty if nobody has said so",
    )
    vessels = forms.MultipleChoiceField(
        label="Vessels treated (of a bypass both ends)",
        choices=[(code, _capitalised(words)) for code, words in VESSELS],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose vessels of the list."},
    )
    device = one_of(
        "Left in the limb",
        [("", "Not known"), *((code, _capitalised(words)) for code, words in DEVICES)],
        "Choose one of the list, or not known.",
        widget=forms.Select,
        required=False,
    )
    also_called = {"kind": "what", "toe": "what", "level": "what", "approach": "what", "grade": "what"}

    def values(self) -> dict[str, Any]:
        """What ``services.record_limb_fact`` takes."""
        typed = dict(self.cleaned_data)
        kind, *detail = typed.pop("what").split(":")
        said = dict.fromkeys(_DETAIL.values(), "")
        if detail:
            said[_DETAIL[FactKind(kind)]] = detail[0]
        first, precision = typed["started_on"]
        return {
            **typed,
            **said,
            "kind": kind,
            "toe": int(detail[1]) if len(detail) > 1 else None,
            "side": "" if typed["side"] == _WHOLE_PERSON else typed["side"],
            "vessels": " ".join(code for code, _ in VESSELS if code in typed["vessels"]),
            "started_on": first,
            "started_precision": precision,
        }


class CorrectFactForm(FactForm):
    """The fact as it should have been recorded, and why it was not."""

    ended_on = TypedDateField(label="Ended on", help_text="Leave empty if it still holds, or was done once")
    reason = LineField(
        label="Why it is corrected", max_length=200, missing="Say why: the reason is kept with the record."
    )

    @classmethod
    def of(cls, fact: LimbFact, **options: Any) -> "CorrectFactForm":
        said = {
            name: getattr(fact, name) for name in ("ended_on", "note", "source", "device", "osteomyelitis")
        }
        detail = getattr(fact, _DETAIL.get(FactKind(fact.kind), ""), "") if fact.kind in _DETAIL else ""
        what = ":".join(str(part) for part in (fact.kind, detail, fact.toe) if part)
        said |= {
            "side": fact.side or _WHOLE_PERSON,
            "what": what,
            "started_on": fact.dated.words,
            "vessels": fact.vessels.split(),
        }
        return cls(initial=said, **options)


class EndFactForm(RoomForm):
    ended_on = TypedDateField(
        label="Ended on", missing="Write the day it ended; if it is today, write today."
    )
    reason = LineField(
        label="Why it ended",
        max_length=200,
        missing="Say why: healed, treated, amputated.",
        help_text="For example: healed",
    )
