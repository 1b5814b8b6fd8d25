"""What may be said of a table, and the words when it may not."""

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from exams.hemodynamics import criteria_names, load_criteria
from exams.patients.forms.fields import LineField, RoomForm, TextField, TypedDateField
from exams.visits.models import Technique
from exams.visits.plan import TECHNIQUES
from reports.exchange.columns import DATE_ORDERS, FIELDS, GROUPS, UNITS, Mapping, Options, unit_in
from reports.exchange.guessing import Guess
from reports.exchange.own_words import table_words
from reports.exchange.sheets import ENCODINGS, MOST_BYTES, SEPARATORS, Profile
from reports.exchange.words import many

_NOT_ASKED = [("", "not said")]


class UploadForm(RoomForm):
    """One file."""

    file = forms.FileField(
        label="Table (.xlsx or CSV)",
        help_text="One exam a row, or one reading a row; the first row names the columns. At most 32 MB.",
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Save the table again and choose it.",
            "missing": "No file arrived. Choose it again.",
        },
        widget=forms.ClearableFileInput(attrs={"accept": ".xlsx,.xlsm,.csv,.txt,.tsv"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise ValidationError(
                f"The file is larger than {MOST_BYTES // 2**20} MB. Save only the sheet with the pressures, "
                "or send it in two parts."
            )
        return file


class SheetForm(RoomForm):
    """Which sheet and row, and how text is read."""

    sheet = forms.ChoiceField(label="Sheet", required=False)
    heading_row = forms.IntegerField(
        label="Row that names the columns",
        min_value=1,
        max_value=1_048_576,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "size": 6, "autocomplete": "off"}),
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), "Type the number of the row, for example 1."
        ),
    )
    encoding = forms.ChoiceField(label="Letters", required=False, choices=[*ENCODINGS.items()])
    separator = forms.ChoiceField(label="Cells are parted by", required=False, choices=[*SEPARATORS.items()])

    def __init__(self, *args: Any, profile: Profile, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["sheet"].choices = [(one.name, one.name) for one in profile.visible if one.rows]  # type: ignore[attr-defined]
        if profile.kind == "csv":
            del self.fields["sheet"]
        else:
            del self.fields["encoding"], self.fields["separator"]

    def values(self) -> dict[str, Any]:
        names = ("sheet", "heading_row", "encoding", "separator")
        return {name: self.cleaned_data.get(name, "") for name in names}


class ColumnsForm(RoomForm):
    """A field for each column, then what holds for the table as a whole. What is certain is not asked."""

    issuer = LineField(
        label="Who issued the identifiers",
        max_length=80,
        missing="Write who issued them, as on the record of a person: people are matched by it.",
    )
    date_order = forms.ChoiceField(label="Dates are written", required=False)
    unit = forms.ChoiceField(label="Pressures are in", required=False)
    arm_technique = forms.ChoiceField(label="Arms were measured with", required=False)
    ankle_technique = forms.ChoiceField(label="Ankles were measured with", required=False)
    toe_technique = forms.ChoiceField(label="Toes were measured with", required=False)
    exam_date = TypedDateField(label="Day of every exam", help_text="Only where no column names it")
    subjects = forms.BooleanField(
        label="The table holds no names: each identifier is a pseudonymous subject",
        required=False,
        help_text="New people are then registered as “Subject” with the identifier as their name.",
    )
    subject_born = TypedDateField(
        label="Birth date written for every subject",
        help_text="A record needs one; 1 Jan 1900 is clearly nobody's. Ages then mean nothing.",
    )
    index_rule = forms.ChoiceField(
        label="Indices in the table were made by",
        required=False,
        help_text="A typed index that its own pressures do not give is named; the pressures are taken in.",
    )
    words = TextField(
        label="Words of this table",
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="One a line: heading: written = meant. For example: arm used: 1 = right; NP = no signal; "
        "8 = blank.",
    )
    keep_as = LineField(label="Keep these columns as a template named", max_length=80)

    def __init__(self, *args: Any, mapping: Mapping, guess: Guess, **options: Any) -> None:
        said = mapping.options
        initial = {**_initial(said), **{f"column_{n}": name for n, name in enumerate(mapping.fields)}}
        initial["date_order"] = said.date_order or guess.date_order
        initial["unit"] = said.unit or guess.unit
        super().__init__(*args, initial={**initial, **(options.pop("initial", None) or {})}, **options)
        self.mapping, self.guess = mapping, guess
        for place, heading in enumerate(mapping.headings):
            self.fields[f"column_{place}"] = forms.ChoiceField(
                label=heading, required=False, choices=_field_choices()
            )
        self._choices("date_order", [*_NOT_ASKED, *DATE_ORDERS.items()])
        self._choices("unit", [*_NOT_ASKED, *UNITS.items()])
        for kind in ("arm", "ankle", "toe"):
            offered = [(str(one), str(Technique(one).label)) for one in TECHNIQUES[kind]]
            self._choices(f"{kind}_technique", [*_NOT_ASKED, *offered])
        rules = [(name, load_criteria(name).label) for name in criteria_names()]
        self._choices("index_rule", [("", "the clinic's own criteria"), *rules])

    @property
    def column_fields(self) -> list[Any]:
        return [self[f"column_{place}"] for place in range(len(self.mapping.headings))]

    @property
    def other_fields(self) -> list[Any]:
        return [self[name] for name in self.base_fields if name != "keep_as"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        named = [said.get(f"column_{place}", "") for place in range(len(self.mapping.headings))]
        self._no_field_twice(named)
        self._enough(named, said)
        mapping = self._mapping(named, said)
        for kind in sorted(mapping.kinds):
            if not said.get(f"{kind}_technique"):
                self.add_error(
                    f"{kind}_technique",
                    f"Say how the {kind}s were measured: only readings of one technique are compared.",
                )
        if not said.get("unit") and any(
            not unit_in(heading)
            for heading, name in zip(mapping.headings, named, strict=True)
            if name.count(".") == 2 or name == "reading"
        ):
            self.add_error("unit", f"mmHg or kPa? {self.guess.unit_words}")
        dates = {"exam_date", "birth_date"} & set(named)
        if dates and not said.get("date_order") and self.guess.dates_are_open:
            self.add_error(
                "date_order",
                "Day first or month first? This table has dates of both kinds: choose the usual one, the "
                "others are named."
                if self.guess.dates_are_mixed
                else "Day first or month first? The dates of this table can be read both ways.",
            )
        try:
            table_words(said.get("words", ""))
        except ValueError as error:
            self.add_error(
                "words", f"“{str(error)[:60]}” does not say what is meant: write heading: written = meant."
            )
        return said

    def named_mapping(self) -> Mapping:
        named = [self.cleaned_data[f"column_{place}"] for place in range(len(self.mapping.headings))]
        return self._mapping(named, self.cleaned_data)

    def _mapping(self, named: Sequence[str], said: dict[str, Any]) -> Mapping:
        day, born = said.get("exam_date"), said.get("subject_born")
        options = Options(
            issuer=said.get("issuer", ""),
            date_order=said.get("date_order", ""),
            dates_mixed=self.guess.dates_are_mixed,
            unit=said.get("unit", ""),
            arm_technique=said.get("arm_technique", ""),
            ankle_technique=said.get("ankle_technique", ""),
            toe_technique=said.get("toe_technique", ""),
            exam_date=day.isoformat() if day and "exam_date" not in named else "",
            subjects=bool(said.get("subjects")),
            subject_born=born.isoformat() if born else "",
            index_rule=said.get("index_rule", ""),
            words=said.get("words", ""),
        )
        return Mapping(self.mapping.headings, tuple(named), options)

    def _no_field_twice(self, named: Sequence[str]) -> None:
        for place, name in enumerate(named):
            if name and name in named[:place]:
                first = self.mapping.headings[named.index(name)]
                self.add_error(
                    f"column_{place}", f"“{first}” is taken as this already. Choose another, or leave it out."
                )

    def _enough(self, named: Sequence[str], said: dict[str, Any]) -> None:
        def need(name: str, words: str) -> None:
            if name not in named:
                self.add_error(None, words)

        need("identifier", "No column is the person's identifier. People are matched by it: choose one.")
        subjects = bool(said.get("subjects"))
        if not subjects:
            need(
                "birth_date", "No column is the birth date. People are matched by identifier and birth date."
            )
        elif not said.get("subject_born") and "subject_born" not in self.errors and "birth_date" not in named:
            self.add_error(
                "subject_born", "Write a birth date for the subjects; 1 Jan 1900 is clearly nobody's."
            )
        if "exam_date" not in named and not said.get("exam_date") and "exam_date" not in self.errors:
            self.add_error(
                "exam_date", "No column is the day of the exam. Choose one above, or write the day here."
            )
        if "reading" in named:
            need("side", "One reading a row: choose the column that says right or left.")
            need("site", "One reading a row: choose the column that says where.")
            if any(name.count(".") == 2 for name in named):
                self.add_error(
                    None, "Either one reading a row, or a column for each site: not both in one table."
                )
        elif not any(name.count(".") in (1, 2) for name in named):
            self.add_error(None, "No column is a pressure or an index. Choose at least one.")
        if any(name.startswith("used.") for name in named):
            need("arm_side", "Choose the column that says which arm was used, right or left.")

    def _choices(self, name: str, choices: Iterable[tuple[str, str]]) -> None:
        self.fields[name].choices = list(choices)  # type: ignore[attr-defined]


class TakeInForm(RoomForm):
    """What the person agrees to before a table is taken in."""

    agree_new_people = forms.BooleanField(required=False)
    leave_out_refused = forms.BooleanField(required=False)

    def __init__(self, *args: Any, counts: dict[str, int], **options: Any) -> None:
        super().__init__(*args, **options)
        new, refused = many(counts.get("new_people", 0), "person"), many(counts.get("refused", 0), "row")
        self.fields["agree_new_people"].label = f"Register {new} as new"
        self.fields["leave_out_refused"].label = f"Leave out {refused} that cannot come in"
        if not counts.get("new_people"):
            del self.fields["agree_new_people"]
        if not counts.get("refused"):
            del self.fields["leave_out_refused"]

    def values(self) -> dict[str, bool]:
        return {name: bool(self.cleaned_data.get(name)) for name in ("agree_new_people", "leave_out_refused")}


class TakeBackForm(RoomForm):
    because = LineField(
        label="Why it is taken back", max_length=200, missing="Say why: the reason is kept with the table."
    )


def _initial(said: Options) -> dict[str, Any]:
    return {name: value for name, value in said.to_json().items() if value}


def _field_choices() -> list[Any]:
    return [
        ("", "not taken in"),
        *((title, [(name, FIELDS[name]) for name in names]) for title, names in GROUPS),
    ]
