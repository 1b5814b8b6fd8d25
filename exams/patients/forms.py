"""What may be typed about a person, a caution or a fact of a limb; and the words when it may not."""

import re
import unicodedata
from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from access import clock
from access.people import Person
from exams.patients import matching, queries
from exams.patients.events import APPROACHES, DEVICES, GRADES, LEVELS, OF_ONE_TOE, VESSELS, FactKind, Toe
from exams.patients.models import (
    EARLIEST_BIRTH,
    Answer,
    CautionKind,
    LimbFact,
    Patient,
    Region,
    Sex,
    Side,
    Tobacco,
)
from exams.patients.services import STALE
from exams.patients.typed_date import NotADate, read_about, read_date, written

IDENTIFIER_ROWS = (1, 2)

_TOO_LONG = "Shorten this to %(limit_value)d characters; it has %(show_value)d."
_WRITTEN_DATE = "25 Nov 2026, 25/11/2026 or 2026-11-25"
_YES_NO = [(Answer.YES, "yes"), (Answer.NO, "no"), (Answer.UNKNOWN, "unknown")]


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
        options.setdefault("help_text", f"For example {_WRITTEN_DATE}")
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
            day = super().to_python(value)
            return (day, "day") if day else None
        return first, precision


def _refuse_invisible(text: str) -> str:
    # Controls and half characters: a database may refuse them, and nobody can see or search them.
    if any(unicodedata.category(character) in {"Cc", "Cs"} for character in text):
        raise ValidationError("This holds a character that cannot be seen. Type it again instead of pasting.")
    return text


def _choice(label: str, choices: Iterable[Any], missing: str, **options: Any) -> forms.ChoiceField:
    options.setdefault("widget", forms.RadioSelect)
    errors = {"required": missing, "invalid_choice": missing}
    return forms.ChoiceField(label=label, choices=list(choices), error_messages=errors, **options)


def _issuer_box() -> forms.TextInput:
    # The list of issuers used before stands once on the page (templates/patients/_issuers.html).
    return forms.TextInput(attrs={"list": "issuers", "autocomplete": "off"})


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


# ---- a person


class PersonForm(RoomForm):
    """What is typed of a person on both the new and the changed record."""

    family_name = LineField(label="Family name", max_length=80, missing="Write the family name.")
    given_name = LineField(
        label="Given name",
        max_length=80,
        missing="Write the given name, or a dash (-) if the person has one name only.",
    )
    birth_date = TypedDateField(
        label="Birth date", missing=f"Write the birth date, for example {_WRITTEN_DATE}."
    )
    sex = _choice("Sex", Sex.choices, "Choose one; “unknown” is an answer.")
    telephone = LineField(label="Telephone", max_length=40)
    address = TextField(label="Address", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))
    referrer = LineField(label="Referred by", max_length=160, help_text="Person and practice")
    diabetes = _choice("Diabetes", _YES_NO, "Choose yes, no or unknown.")
    kidney_disease = _choice("Kidney disease", _YES_NO, "Choose yes, no or unknown.")
    neuropathy = _choice("Neuropathy (feeling lost in the feet)", _YES_NO, "Choose yes, no or unknown.")
    tobacco = _choice("Tobacco", Tobacco.choices, "Choose one; “unknown” is an answer.")

    def __init__(self, *args: Any, person: Person, **options: Any) -> None:
        super().__init__(*args, **options)
        self.person = person

    def clean_family_name(self) -> str:
        return _a_name(self.cleaned_data["family_name"])

    def clean_given_name(self) -> str:
        given = self.cleaned_data["given_name"]
        return given if given == "-" else _a_name(given)

    def clean_birth_date(self) -> date:
        born = self.cleaned_data["birth_date"]
        if born > queries.today_for(self.person):
            raise ValidationError(f"{written(born)} is still to come. Check the year.")
        if born < EARLIEST_BIRTH:
            raise ValidationError(f"{written(born)} is before 1900. Check the year.")
        return born

    def clean_telephone(self) -> str:
        telephone = self.cleaned_data["telephone"]
        if telephone and not any(character.isdigit() for character in telephone):
            raise ValidationError("A telephone number has figures in it. Leave this empty if there is none.")
        return telephone


def _a_name(text: str) -> str:
    if not any(unicodedata.category(character)[0] == "L" for character in text):
        raise ValidationError("A name has letters in it. Check that it stands in the right place.")
    return text


class IdentifierForm(RoomForm):
    """One identifier, to be added to a record."""

    issuer = LineField(label="Issued by", max_length=80, missing="Write who issued it.", widget=_issuer_box())
    value = LineField(label="Identifier", max_length=60, missing="Write the identifier.")
    also_called = {"identifiers": "value"}

    def clean_issuer(self) -> str:
        return _comparable(self.cleaned_data["issuer"])

    def clean_value(self) -> str:
        return _comparable(self.cleaned_data["value"])


class NewPatientForm(PersonForm):
    """A person and up to two identifiers. Further ones are added to the record."""

    issuer_1 = LineField(label="Issued by", max_length=80, widget=_issuer_box())
    value_1 = LineField(label="Identifier", max_length=60)
    issuer_2 = LineField(label="Second identifier: issued by", max_length=80, widget=_issuer_box())
    value_2 = LineField(label="Second identifier", max_length=60)
    duplicate_reason = LineField(
        label="These are different people because …",
        max_length=200,
        help_text="For example: twin sister; father and son of one name. The audit trail keeps the reason.",
    )
    also_called = {"identifiers": "value_1"}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        seen: set[tuple[str, str]] = set()
        for row in IDENTIFIER_ROWS:
            self._clean_identifier(row, seen)
        return cleaned

    def _clean_identifier(self, row: int, seen: set[tuple[str, str]]) -> None:
        issuer, value = self.cleaned_data.get(f"issuer_{row}"), self.cleaned_data.get(f"value_{row}")
        if issuer is None or value is None or not (issuer or value):
            return
        if not matching.words(value):
            self.add_error(f"value_{row}", "Write the identifier, or empty both fields.")
        elif not matching.words(issuer):
            self.add_error(f"issuer_{row}", "Write who issued it, or empty both fields.")
        elif (pair := (matching.key(issuer), matching.key(value))) in seen:
            self.add_error(f"value_{row}", "This is the same identifier as the first. Empty one of them.")
        else:
            seen.add(pair)
            if queries.holder_of_identifier(self.person, issuer, value):
                self.add_error(
                    f"value_{row}",
                    "A record of this clinic has this identifier already. Open that record, or check what "
                    "you typed.",
                )

    def identifiers(self) -> list[tuple[str, str]]:
        """The identifiers typed, complete ones only; also of a form with errors elsewhere."""
        pairs = [
            (self.cleaned_data.get(f"issuer_{n}"), self.data.get(f"value_{n}", "")) for n in IDENTIFIER_ROWS
        ]
        return [(issuer or "", value.strip()) for issuer, value in pairs if value.strip()]

    def values(self) -> dict[str, Any]:
        """What ``services.register_patient`` takes."""
        typed = {name: self.cleaned_data[name] for name in PersonForm.base_fields}
        return {
            **typed,
            "identifiers": self.identifiers(),
            "duplicate_reason": self.cleaned_data["duplicate_reason"],
        }


class ChangePatientForm(PersonForm):
    """The record as it was when the page was opened, and as it shall be."""

    revision = forms.IntegerField(min_value=1, max_value=2**31 - 1, widget=forms.HiddenInput)
    died_on = TypedDateField(label="Died on", help_text="Leave empty while the person lives")

    @classmethod
    def of(cls, patient: Patient, **options: Any) -> "ChangePatientForm":
        typed = {name: getattr(patient, name) for name in cls.base_fields}
        return cls(initial=typed, **options)

    def clean(self) -> dict[str, Any]:
        if "revision" in self.errors:
            self.add_error(None, "This page has lost its place in the record. Open the record again.")
        return super().clean() or self.cleaned_data

    @property
    def is_stale(self) -> bool:
        """Whether the record was saved by somebody else since this page was opened."""
        return any(self.has_error(name, STALE) for name in self.fields)

    def renew(self, revision: int) -> None:
        """Let the same text be sent again, now in the knowledge of the newer record."""
        self.data = {**dict(self.data.items()), "revision": str(revision)}


def _comparable(text: str) -> str:
    if not matching.words(text):
        raise ValidationError("Write at least one letter or figure.")
    return text


class ReasonForm(RoomForm):
    """A reason, asked for wherever something is taken out of use."""

    reason = LineField(label="Reason", max_length=200, missing="Say why: the reason is kept with the record.")


# ---- cautions

_PLACES = [
    *((f"{side}:{region}", f"{side.label} {region.label}") for side in Side for region in list(Region)[:4]),
    (f":{Region.WHOLE_PERSON}", str(Region.WHOLE_PERSON.label)),
]


class CautionForm(RoomForm):
    """A reason not to inflate a cuff, or to take care."""

    place = _choice("Where", [("", "Choose"), *_PLACES], "Choose where.", widget=forms.Select)
    kind = _choice("Why", [("", "Choose"), *CautionKind.choices], "Choose why.", widget=forms.Select)
    do_not_inflate = _choice(
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
    started_on = TypedDateField(label="Since", help_text=f"If known: {_WRITTEN_DATE}")
    review_on = TypedDateField(label="Ask again on", help_text="Leave empty if it will not change")
    also_called = {"side": "place", "region": "place"}

    def values(self) -> dict[str, Any]:
        """What ``services.add_caution`` takes."""
        typed = dict(self.cleaned_data)
        typed["side"], typed["region"] = typed.pop("place").split(":")
        return {**typed, "do_not_inflate": typed["do_not_inflate"] == "yes"}


class StillTrueForm(RoomForm):
    review_on = TypedDateField(label="Ask again on", help_text="Leave empty if it will not change")


# ---- dated facts of a limb, and events

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
            *_kinds(FactKind.OPEN_WOUND, FactKind.REST_PAIN, FactKind.FOOT_INFECTION),
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

    side = _choice("Limb", _SIDES, "Choose RIGHT, LEFT or whole person.")
    what = _choice("What", _WHAT, "Choose what was found or done.", widget=forms.Select)
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
    vessels = forms.MultipleChoiceField(
        label="Vessels treated (of a bypass both ends)",
        choices=[(code, _capitalised(words)) for code, words in VESSELS],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose vessels of the list."},
    )
    device = _choice(
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
        said = {name: getattr(fact, name) for name in ("ended_on", "note", "source", "device")}
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
