"""What may be typed of a person; and the words when it may not."""

import unicodedata
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from access.people import Person
from exams.patients import matching, queries
from exams.patients.forms.fields import LineField, RoomForm, TextField, TypedDateField, one_of
from exams.patients.models import EARLIEST_BIRTH, Answer, Patient, Sex, Tobacco
from exams.patients.services import STALE
from exams.patients.typed_date import written

IDENTIFIER_ROWS = (1, 2)

_YES_NO = [(Answer.YES, "yes"), (Answer.NO, "no"), (Answer.UNKNOWN, "unknown")]


WRITTEN_BIRTH = "3 Feb 1950, 03/02/1950 or 1950-02-03"


def _issuer_box() -> forms.TextInput:
    # The list of issuers used before stands once on the page (templates/patients/_issuers.html).
    return forms.TextInput(attrs={"list": "issuers", "autocomplete": "off"})


class PersonForm(RoomForm):
    """What is typed of a person on both the new and the changed record."""

    family_name = LineField(label="Family name", max_length=80, missing="Write the family name.")
    given_name = LineField(
        label="Given name",
        max_length=80,
        missing="Write the given name, or a dash (-) if the person has one name only.",
    )
    birth_date = TypedDateField(
        label="Birth date",
        help_text=f"For example {WRITTEN_BIRTH}",
        missing=f"Write the birth date, for example {WRITTEN_BIRTH}.",
    )
    sex = one_of("Sex", Sex.choices, "Choose one; “unknown” is an answer.")
    telephone = LineField(label="Telephone", max_length=40)
    address = TextField(label="Address", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))
    referrer = LineField(label="Referred by", max_length=160, help_text="Person and practice")
    diabetes = one_of("Diabetes", _YES_NO, "Choose yes, no or unknown.")
    kidney_disease = one_of("Kidney disease", _YES_NO, "Choose yes, no or unknown.")
    neuropathy = one_of("Neuropathy (feeling lost in the feet)", _YES_NO, "Choose yes, no or unknown.")
    tobacco = one_of("Tobacco", Tobacco.choices, "Choose one; “unknown” is an answer.")

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
    # As they stand on the page, so that what is to be mended is listed in that order.
    field_order = (
        "family_name",
        "given_name",
        "birth_date",
        "sex",
        "issuer_1",
        "value_1",
        "issuer_2",
        "value_2",
    )

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
