"""What may be said on the pages of this room; the words when it may not."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from exams.patients.models import Side
from exams.traces.files import MOST_BYTES, ColumnPreview, Columns, CuffUnit, FileKind, Preview, TimeUnit
from exams.traces.matching import match_name, next_attempt
from exams.visits.forms import Words
from exams.visits.models import Site, Technique
from exams.visits.plan import TECHNIQUES, kind_of_site
from exams.visits.wording import SIDE_WORDS, place_words

MOST_FILES = 20
_UNITS = {
    TimeUnit.SECONDS: "seconds",
    TimeUnit.MILLISECONDS: "milliseconds",
    TimeUnit.MINUTES: "minutes",
    TimeUnit.CLOCK: "time of day",
}
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", " ": "blanks", "|": "upright line"}


def _techniques(offered: Iterable[str], nothing: str) -> list[tuple[str, str]]:
    return [("", nothing), *((str(one), str(Technique(one).label)) for one in offered)]


def dropped_files(files: Sequence[UploadedFile]) -> tuple[list[tuple[str, bytes]], list[tuple[str, str]]]:
    """Names and bytes of what was dropped, and (name, words) of what was too large to take.

    Raises
    ------
    ValidationError
        Where nothing or too much was dropped at once.
    """
    if not files:
        raise ValidationError("Choose at least one file, or drop it on this page.")
    if len(files) > MOST_FILES:
        raise ValidationError(
            f"These are {len(files)} files; at most {MOST_FILES} are taken at once. None was kept: "
            "drop them in two parts."
        )
    taken, refused = [], []
    for file in files:
        name = file.name or ""
        if (file.size or 0) > MOST_BYTES:
            refused.append((name, "A file may have 32 MB. Export the toe alone and drop that file."))
        else:
            taken.append((name, file.read()))
    return taken, refused


class TechniqueForm(forms.Form):
    """How the toes, and how ankles and arms were recorded, unless a line says otherwise."""

    toes = forms.ChoiceField(
        label="Toes were recorded with", required=False, choices=_techniques(TECHNIQUES["toe"], "choose")
    )
    others = forms.ChoiceField(
        label="Ankles and arms were recorded with",
        required=False,
        choices=_techniques(TECHNIQUES["ankle"], "choose"),
    )

    def for_site(self, site: str) -> str:
        return str(self.cleaned_data.get("toes" if kind_of_site(site) == "toe" else "others") or "")


class MatchForm(forms.Form):
    """Where and how one file was recorded. Left without side and site, it waits."""

    side = forms.ChoiceField(
        required=False,
        choices=[("", "choose"), *SIDE_WORDS.items()],
        error_messages={"invalid_choice": "Choose RIGHT or LEFT."},
    )
    site = forms.ChoiceField(
        required=False,
        choices=[("", "choose"), *((one.value, str(one.label)) for one in Site)],
        error_messages={"invalid_choice": "Choose the site from the list."},
    )
    attempt = forms.TypedChoiceField(
        choices=[(1, "1"), (2, "2"), (3, "3")],
        coerce=int,
        error_messages={
            "required": "Choose attempt 1, 2 or 3.",
            "invalid_choice": "Choose attempt 1, 2 or 3.",
        },
    )
    technique = forms.ChoiceField(required=False, choices=_techniques(Technique, "as above"))
    cuff_width_mm = forms.IntegerField(
        label="Cuff width, mm",
        required=False,
        error_messages={"invalid": "Type whole millimetres, or leave it empty."},
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "4"}),
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        trace: Any,
        techniques: TechniqueForm,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, prefix=f"t{trace.pk}", initial=initial)
        self.trace, self.techniques = trace, techniques
        for name, field in self.fields.items():
            field.label = field.label or name.capitalize()

    @property
    def is_left(self) -> bool:
        """Whether nothing was said of it yet."""
        return not self.cleaned_data.get("side") and not self.cleaned_data.get("site")

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        side, site = said.get("side"), said.get("site")
        if side and not site and "site" not in self.errors:
            self.add_error("site", "Choose the site.")
        if site and not side and "side" not in self.errors:
            self.add_error("side", "RIGHT or LEFT? The file's name does not say it clearly.")
        if site and not said.get("technique"):
            said["technique"] = self.techniques.for_site(site) if self.techniques.is_valid() else ""
            if not said["technique"]:
                self.add_error("technique", "Choose how it was recorded, here or above for all of them.")
        return said


def match_forms(
    traces: Iterable[Any],
    taken: Mapping[tuple[str, str], set[int]],
    techniques: TechniqueForm,
    data: Mapping[str, str] | None = None,
) -> list[MatchForm]:
    """A form a file, each with what its name says; attempts follow those that are taken."""
    if data is not None:
        return [MatchForm(data, trace=trace, techniques=techniques) for trace in traces]
    made, used = [], {place: set(attempts) for place, attempts in taken.items()}
    for trace in traces:
        said = match_name(trace.original_name)
        there = used.setdefault((said.side, said.site), set())
        attempt = said.attempt if said.attempt and said.attempt not in there else next_attempt(there)
        if said.side and said.site:
            there.add(attempt)
        initial = {
            "side": said.side,
            "site": said.site,
            "attempt": attempt,
            "technique": said.technique,
        }
        made.append(MatchForm(initial=initial, trace=trace, techniques=techniques))
    return made


def forbid_doubles(made: Sequence[MatchForm]) -> None:
    """An error at each of two files that would stand for one attempt: nobody here knows which is right."""
    places: dict[tuple[Any, ...], list[MatchForm]] = {}
    for form in made:
        said = form.cleaned_data
        if said.get("side") and said.get("site") and said.get("attempt"):
            places.setdefault((said["side"], said["site"], said["attempt"]), []).append(form)
    for (side, site, attempt), same in places.items():
        if len(same) > 1:
            words = f"{len(same)} files say {place_words(Side(side), site, attempt)}. Choose another attempt."
            for form in same:
                form.add_error("attempt", words)


class ColumnsForm(forms.Form):
    """Which column of a file is which, and in which unit."""

    time = forms.TypedChoiceField(label="Time", required=False, coerce=int, empty_value=None)
    time_unit = forms.ChoiceField(
        label="Unit of the time", choices=[(one.value, _UNITS[one]) for one in TimeUnit]
    )
    sampling_hz = forms.FloatField(
        label="Samples a second",
        required=False,
        localize=False,
        help_text="Only where there is no column with the time.",
        error_messages={"invalid": "Type a number such as 100."},
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "short"}),
    )
    cuff = forms.TypedChoiceField(label="Cuff pressure", coerce=int)
    cuff_unit = forms.ChoiceField(
        label="Unit of the cuff pressure",
        choices=[("", "choose"), *((one.value, one.value) for one in CuffUnit)],
        error_messages={"required": "Choose the unit."},
    )
    signal = forms.TypedChoiceField(
        label="Signal of the sensor", coerce=int, help_text="Any unit: only its shape is read."
    )

    def __init__(self, *args: Any, preview: Preview, **options: Any) -> None:
        self.preview = preview
        super().__init__(*args, **options)
        named = [(one.number, column_words(one)) for one in preview.columns]
        for name, nothing in (("time", "there is none"), ("cuff", "choose"), ("signal", "choose")):
            field = cast(forms.ChoiceField, self.fields[name])
            field.choices = [("", nothing), *named]
            field.error_messages["required"] = "Choose the column."
        if preview.kind is not FileKind.CSV:  # these formats carry their own clock
            for name in ("time", "time_unit", "sampling_hz"):
                del self.fields[name]
        guess = preview.suggested
        if guess is not None:
            self.initial = {
                "time": guess.time,
                "time_unit": guess.time_unit.value,
                "sampling_hz": guess.sampling_hz,
                "cuff": guess.cuff,
                "cuff_unit": guess.cuff_unit.value if _unit_is_clear(preview, guess.cuff) else "",
                "signal": guess.signal,
            }

    def clean(self) -> dict[str, Any]:
        said: dict[str, Any] = super().clean() or self.cleaned_data
        chosen = [said[name] for name in ("time", "cuff", "signal") if said.get(name) is not None]
        if len(set(chosen)) < len(chosen):
            self.add_error("signal", "Time, cuff pressure and signal must be different columns.")
        if "time" in self.fields and said.get("time") is None:
            hz = said.get("sampling_hz")
            if "sampling_hz" not in self.errors and (hz is None or not 1 <= hz <= 20_000):
                words = "Without a column for the time say how many samples a second, 1 to 20 000."
                self.add_error("sampling_hz", words)
        return said

    def columns(self) -> Columns:
        """What was chosen, with the separators that were found."""
        said, found = self.cleaned_data, self.preview.suggested
        time = said.get("time")
        return Columns(
            cuff=said["cuff"],
            signal=said["signal"],
            time=time,
            time_unit=TimeUnit(said.get("time_unit") or TimeUnit.SECONDS),
            cuff_unit=CuffUnit(said["cuff_unit"]),
            sampling_hz=said.get("sampling_hz") if time is None else None,
            # Where nothing could be suggested, "": the table's habits are found again when it is read.
            separator=found.separator if found else "",
            decimal_comma=found.decimal_comma if found else False,
        )


class WithdrawForm(forms.Form):
    """Take a recording back."""

    because = Words(
        most=200,
        missing="Say why it is withdrawn.",
        label="Why",
        help_text="For example: of another patient.",
    )


def _unit_is_clear(preview: Preview, number: int) -> bool:
    """Whether the file says the unit of the cuff, or no cuff could reach such a number of kPa."""
    cuff = next(one for one in preview.columns if one.number == number)
    return bool(cuff.unit) or (cuff.high or 0) > 60


def column_words(column: ColumnPreview) -> str:
    """ "column 2: cuff, mmHg": a number even where it has a name, since names may be alike."""
    name = f": {column.name}" if column.name else ""
    return f"column {column.number + 1}{name}{f', {column.unit}' if column.unit else ''}"


def layout_words(preview: Preview) -> str:
    """How the table was read, to be compared with the rows shown; empty for other formats."""
    if preview.kind is not FileKind.CSV or preview.suggested is None:
        return ""
    comma = "decimal comma" if preview.suggested.decimal_comma else "decimal point"
    return f"Cells are parted by {_SEPARATORS.get(preview.suggested.separator, 'a sign')}, with {comma}."
