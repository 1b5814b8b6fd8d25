"""What may be typed on the pages of this room; the words when it may not."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from reports.audit.calendar import Period
from reports.audit.definitions import measures
from reports.audit.draft_text import Edge
from reports.audit.models import Form
from reports.audit.queries.what_if import MOST


class Words(forms.CharField):
    """One line that must be filled in, with the words when it is not."""

    def __init__(self, *, missing: str, most: int, **options: Any) -> None:
        errors = {"required": missing, "max_length": f"At most {most} characters; the rest has to go."}
        super().__init__(max_length=most, error_messages=errors, **options)
        self.widget.attrs.update(autocomplete="off")


def _year_choice(years: Sequence[Period]) -> forms.ChoiceField:
    missing = "Choose an audit year of the list."
    return forms.ChoiceField(
        label="Audit year",
        choices=[(one.key, one.words) for one in years],
        error_messages={"required": missing, "invalid_choice": missing},
    )


def _form_choice() -> forms.ChoiceField:
    missing = "Choose one of the kinds of file."
    return forms.ChoiceField(
        label="Kind of file",
        choices=list(Form.choices),
        error_messages={"required": missing, "invalid_choice": missing},
    )


class SumsForm(forms.Form):
    """Rounded sums of a year as a file."""

    def __init__(self, *args: Any, years: Sequence[Period], **more: Any) -> None:
        super().__init__(*args, **more)
        self.years = {one.key: one for one in years}
        self.fields["year"] = _year_choice(years)
        self.fields["form"] = _form_choice()

    def clean_year(self) -> Period:
        return self.years[self.cleaned_data["year"]]


class RowsForm(SumsForm):
    """Pseudonymised rows of a year: what for, and by what right."""

    purpose = Words(
        label="What the rows are for",
        help_text="A second person reads this and decides.",
        missing="Say what the rows are for: which question, for whom.",
        most=400,
    )
    legal_basis = Words(
        label="Legal basis",
        help_text="The number of the approval, or the rule that allows it.",
        missing="Say by what right: an approval with its number, or the rule.",
        most=200,
    )
    field_order = ("year", "form", "purpose", "legal_basis")
    # Several forms with the same fields stand on one page.
    own_ids = "rows_%s"

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **{"auto_id": self.own_ids, **more})
        self.order_fields(self.field_order)


class NamesForm(RowsForm):
    """Rows with names of a year: why nothing less will do, and by what right."""

    own_ids = "names_%s"
    purpose = Words(
        label="Why the names are needed",
        help_text="Say what cannot be done with pseudonyms, and who will read the file.",
        missing="Say why the names are needed: what cannot be done without them, and who reads the file.",
        most=400,
    )


class DecideForm(forms.Form):
    """Approve a request or refuse it, and why."""

    decision = forms.ChoiceField(
        label="Your decision",
        choices=[("approve", "approve"), ("refuse", "refuse")],
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose approve or refuse.",
            "invalid_choice": "Choose approve or refuse.",
        },
    )
    because = Words(label="Why", missing="Say why: the person who asked reads it.", most=300)


class ChooseForm(forms.Form):
    """The measures a clinic sees first."""

    measures = forms.MultipleChoiceField(
        label="Measures on the first page",
        widget=forms.CheckboxSelectMultiple,
        error_messages={
            "required": "Choose at least one measure.",
            "invalid_choice": "Choose measures of the list.",
        },
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["measures"]
        assert isinstance(field, forms.MultipleChoiceField)  # noqa: S101
        field.choices = [(one.id, f"{one.id} {one.title}") for one in measures().values() if one.is_counted]


class HolidayForm(forms.Form):
    """A day on which the clinic does not work."""

    day = forms.DateField(
        label="Day",
        widget=forms.DateInput(attrs={"type": "date"}),
        error_messages={
            "required": "Say which day.",
            "invalid": "This is not a day that exists. Write it like 2026-12-25.",
        },
    )
    words = Words(label="What it is", missing="Say what it is, such as Christmas Day.", most=80)

    def clean_day(self) -> Any:
        day = self.cleaned_data["day"]
        if not 2000 <= day.year <= 2100:
            raise ValidationError("Write a day between 2000 and 2100.")
        return day


def _number(label: str, low: int, high: int, help_text: str) -> forms.IntegerField:
    words = f"Write a whole number from {low} to {high}."
    return forms.IntegerField(
        label=label,
        min_value=low,
        max_value=high,
        help_text=help_text,
        error_messages=dict.fromkeys(("required", "invalid", "min_value", "max_value"), words),
    )


class RulesForm(forms.Form):
    """The service's rules of counting and of small numbers."""

    year_starts_in = _number("Month the audit year starts in", 1, 12, "4 is April, as in the national audit.")
    threshold = _number(
        "Hide counts up to", 5, 20, "Counts of 1 up to this are hidden; 7 is the national rule."
    )
    base = _number("Round to the nearest", 5, 10, "5 is the national rule.")
    least_alike = _number(
        "People alike in an export of rows", 3, 50, "Nobody is released with fewer others like them."
    )
    because = Words(label="Why", missing="Say why the rules change.", most=200)


class WhatIfForm(forms.Form):
    """A limit of the criteria, where it would lie, and over how many exams."""

    edge = forms.ChoiceField(
        label="Which limit",
        error_messages={
            "required": "Choose a limit of the list.",
            "invalid_choice": "Choose a limit of the list.",
        },
    )
    limit = forms.DecimalField(
        label="Where it would lie",
        help_text="An index as 0.90, anything else as a whole number such as 30.",
        max_digits=6,
        error_messages={
            "required": "Write where the limit would lie.",
            "invalid": "Write a number: an index as 0.90, anything else such as 30.",
            "max_digits": "Write a number: an index as 0.90, anything else such as 30.",
        },
    )
    last = _number("Of how many last exams", 10, MOST, f"At most {MOST}.")

    def __init__(self, *args: Any, edges: Sequence[Edge], **more: Any) -> None:
        super().__init__(*args, **more)
        self.edges = {one.key: one for one in edges}
        field = self.fields["edge"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101
        field.choices = [(one.key, one.words) for one in edges]

    def clean(self) -> dict[str, Any]:
        """The limit in the edge's own whole unit, between its neighbours."""
        said = super().clean() or {}
        edge, limit = self.edges.get(said.get("edge", "")), said.get("limit")
        if edge is None or limit is None:
            return said
        whole = limit * 100 if edge.of_an_index else limit
        if not limit.is_finite() or whole != whole.to_integral_value():
            self.add_error("limit", "Write an index to two decimals, or a whole number of anything else.")
        elif not edge.lowest <= whole <= edge.highest:
            low, high = edge.said(edge.lowest), edge.said(edge.highest)
            self.add_error("limit", f"This limit can lie from {low} to {high}.")
        else:
            said["whole"] = int(whole)
        return said


class AskForm(forms.Form):
    """A draft of criteria sent to a second person."""

    because = Words(
        label="Why the limit should move",
        help_text="Name the source. A second person reads this, and what would change, and decides.",
        missing="Say why the limit should move, and name the source.",
        most=300,
    )
