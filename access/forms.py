"""What may be typed about people and clinics, and the words when it may not."""

import zoneinfo
from collections.abc import Iterable
from typing import Any

from django import forms

from access.models import Clinic
from access.roles import ROLES_NEEDING_APPROVAL, ROLES_OF_PEOPLE


def _zones() -> list[tuple[str, str]]:
    return [(zone, zone.replace("_", " ")) for zone in sorted(zoneinfo.available_timezones()) if "/" in zone]


class MemberForm(forms.Form):
    full_name = forms.CharField(
        label="Full name",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Write the name as colleagues know it."},
    )
    email = forms.EmailField(
        label="Email",
        help_text="What they will type to sign in. One account a person; nobody shares one.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
        error_messages={
            "required": "Write the email address they will sign in with.",
            "invalid": "This is not an email address. Write it like name@clinic.example.",
        },
    )


class RoleForm(forms.Form):
    """One role in one clinic."""

    role = forms.ChoiceField(
        label="Role",
        choices=[
            ("", "Choose a role"),
            *(
                (
                    role.value,
                    f"{role.label} (needs a second person)" if role in ROLES_NEEDING_APPROVAL else role.label,
                )
                for role in ROLES_OF_PEOPLE
            ),
        ],
        error_messages={
            "required": "Choose the role to grant.",
            "invalid_choice": "Choose a role from the list.",
        },
    )
    clinic = forms.ModelChoiceField(
        label="Clinic",
        queryset=Clinic.objects.all(),
        required=False,
        empty_label="Choose a clinic",
        help_text="A system administrator serves all clinics, so none is chosen for that role.",
        error_messages={"invalid_choice": "That clinic is not known. Choose one from the list."},
    )


class ClinicForm(forms.Form):
    name = forms.CharField(
        label="Name",
        max_length=120,
        error_messages={"required": "Write the name of the clinic, as it stands on reports."},
    )
    address = forms.CharField(label="Address", max_length=300, required=False)
    phone = forms.CharField(
        label="Phone", max_length=40, required=False, widget=forms.TextInput(attrs={"inputmode": "tel"})
    )
    time_zone = forms.ChoiceField(
        label="Time zone",
        choices=_zones,
        error_messages={"required": "Choose the time zone of the clinic's wall clock."},
        help_text="Times are shown as the clock on this clinic's wall shows them.",
    )
    toes_first = forms.TypedChoiceField(
        label="Order of the exam sheet",
        choices=[("no", "ankles before toes"), ("yes", "toes before ankles")],
        coerce=lambda chosen: chosen == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose the order in which the sheet asks."},
        help_text="Toes first suits a lab where feet cool while the patient waits.",
    )

    @classmethod
    def about(cls, clinic: Clinic) -> "ClinicForm":
        """The form filled with what the clinic is now."""
        return cls(
            initial={
                "name": clinic.name,
                "address": clinic.address,
                "phone": clinic.phone,
                "time_zone": clinic.time_zone,
                "toes_first": "yes" if clinic.toes_first else "no",
            }
        )


class SwitchClinicForm(forms.Form):
    def __init__(self, clinics: Iterable[Clinic], data: Any = None, initial: Any = None) -> None:
        super().__init__(data, initial=initial)
        self.fields["clinic"] = forms.ChoiceField(
            label="Clinic",
            widget=forms.RadioSelect,
            choices=[(str(clinic.pk), clinic.name) for clinic in clinics],
            error_messages=dict.fromkeys(
                ("required", "invalid_choice"), "Choose one of your clinics from the list."
            ),
        )


class FirstPasswordForm(forms.Form):
    password = forms.CharField(
        label="New password",
        strip=False,
        help_text="At least 12 characters, and none of the common ones. A password manager may fill it in.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Write a new password of at least 12 characters."},
    )
    again = forms.CharField(
        label="The same password again",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Write the new password a second time."},
    )

    def clean_again(self) -> str:
        again = str(self.cleaned_data["again"])
        if "password" in self.cleaned_data and again != self.cleaned_data["password"]:
            raise forms.ValidationError(
                "The two are not the same. Type the new password again in both places."
            )
        return again


class TrailForm(forms.Form):
    """Which rows of the trail are looked for."""

    day = forms.DateField(
        label="Day",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={"invalid": "That is not a day. Write it as 2026-11-25."},
    )
    patient = forms.IntegerField(
        label="Patient number",
        required=False,
        min_value=1,
        max_value=2**63 - 1,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        error_messages={"invalid": "A patient number is made of digits only."},
    )
    older_than = forms.IntegerField(
        required=False, min_value=1, max_value=2**63 - 1, widget=forms.HiddenInput
    )

    def __init__(self, people: Any, data: Any) -> None:
        super().__init__(data)
        self.fields["person"] = forms.ModelChoiceField(
            label="Person",
            queryset=people,
            required=False,
            empty_label="Everyone",
            error_messages={"invalid_choice": "That person does not appear in this trail."},
        )
        self.order_fields(["person", "day", "patient"])


class UnlockForm(forms.Form):
    """One proof that the same person is back: a password or code that was typed, or what a passkey gave."""

    typed = forms.CharField(
        label="Your password, or the six digits",
        required=False,
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )
    credential = forms.CharField(required=False, max_length=20_000, widget=forms.HiddenInput)
