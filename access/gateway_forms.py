"""What may be typed about a bedside gateway."""

from django import forms

from access.models import Clinic
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
    )
    clinic = forms.ModelChoiceField(
        label="Clinic",
        queryset=Clinic.objects.all(),
        empty_label="Choose a clinic",
        error_messages={"invalid_choice": "That clinic is not known. Choose one from the list."},
    )
    field_order = ("name", "clinic", "days")
