"""What may be typed about a bedside gateway, or about a program that acts for a person."""

from typing import Any

from django import forms

from access.matrix import matrix
from access.models import Clinic
from access.people import Person
from access.permissions import allowed
from access.tokens import LONGEST_DAYS


class DaysForm(forms.Form):
    days = forms.IntegerField(
        label="Good for, days",
        min_value=1,
        max_value=LONGEST_DAYS,
        initial=LONGEST_DAYS,
        help_text=f"1 to {LONGEST_DAYS}. After that it needs another token; it can be revoked at any time.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        error_messages={
            "required": "Write the number of days in digits, such as 90.",
            "invalid": "Write the number of days in digits, such as 90.",
            "min_value": f"A token is good for 1 to {LONGEST_DAYS} days.",
            "max_value": f"A token is good for 1 to {LONGEST_DAYS} days.",
        },
    )


class GatewayForm(DaysForm):
    name = forms.CharField(
        label="Name",
        max_length=120,
        help_text="What it is called on the ward. Audit trail and traces name it so.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write what the device is called on the ward."},
    )
    clinic = forms.ModelChoiceField(
        label="Clinic",
        queryset=Clinic.objects.all(),
        empty_label="Choose a clinic",
        error_messages={
            "required": "Choose the clinic it stands in.",
            "invalid_choice": "That clinic is not known. Choose one from the list.",
        },
    )
    field_order = ("name", "clinic", "days")


class ProgramForm(DaysForm):
    name = forms.CharField(
        label="Name",
        max_length=120,
        help_text="What people call the program. The audit trail and what it enters name it so.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write what people call the program."},
    )
    scopes = forms.MultipleChoiceField(
        label="What it may do",
        widget=forms.CheckboxSelectMultiple,
        help_text="As little as it needs. It never opens more than your own roles do.",
        error_messages={
            "required": "Choose at least one thing that the program may do.",
            "invalid_choice": "Choose from the list.",
        },
    )
    field_order = ("name", "scopes", "days")

    def __init__(self, person: Person, data: Any = None) -> None:
        super().__init__(data)
        self.fields["scopes"].choices = [  # type: ignore[attr-defined]
            (name, f"{scope.words} ({name})")
            for name, scope in matrix().scopes.items()
            if any(allowed(person, one) for one in scope.abilities)
        ]
