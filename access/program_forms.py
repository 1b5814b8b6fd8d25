"""What may be typed about a program that acts for a person."""

from typing import Any

from django import forms

from access.gateway_forms import DaysForm
from access.matrix import matrix
from access.people import Person
from access.permissions import allowed


class ProgramForm(DaysForm):
    name = forms.CharField(
        label="Name",
        max_length=120,
        help_text="What people call the program. The audit trail and what it enters name it so.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
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
