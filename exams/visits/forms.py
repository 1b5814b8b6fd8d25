"""What may be typed on the pages of this room; the words when it may not."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError

from access import clock
from access.people import Person
from exams.visits.models import ExamType, Indication, PreparationItem, Technique
from exams.visits.plan import TECHNIQUES, kind_of_site
from exams.visits.queries.people import tellers
from exams.visits.services import Entry
from exams.visits.sheet import Field, Sheet
from exams.visits.typed import CHOICES, TypedReading, read_preparation, read_reading, read_words
from exams.visits.wording import OTHER_REASON_MISSING

AT_MINUTE = "%Y-%m-%dT%H:%M"


class Words(forms.CharField):
    """One line of free words: tidied, nothing invisible in it."""

    def __init__(self, *, most: int, missing: str = "", **options: Any) -> None:
        self.most = most
        errors = {"required": missing}
        super().__init__(required=bool(missing), strip=False, error_messages=errors, **options)
        self.widget.attrs.update(maxlength=str(most), autocomplete="off")

    def to_python(self, value: Any) -> str:
        return read_words(str(value or ""), self.most)


class Moment(forms.DateTimeField):
    """A day and time on the clinic's clock, to the minute."""

    def __init__(self, missing: str = "", **options: Any) -> None:
        unreadable = "This is not a day and time that exists. Write it like 2026-11-25 10:05."
        super().__init__(
            required=bool(missing),
            widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=AT_MINUTE),
            input_formats=[AT_MINUTE, "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M", "%d %b %Y %H:%M"],
            error_messages={"required": missing, "invalid": unreadable},
            **options,
        )


def _choice(label: str, choices: list[tuple[str, str]], missing: str, **options: Any) -> forms.ChoiceField:
    errors = {"required": missing, "invalid_choice": missing}
    return forms.ChoiceField(label=label, choices=choices, error_messages=errors, **options)


class BookForm(forms.Form):
    """Book an exam."""

    exam_type = _choice(
        "Which exam", list(ExamType.choices), "Choose which exam.", initial=ExamType.ANKLE_AND_TOE
    )
    booked_for = Moment("Say for when.", label="For when")
    indication = _choice(
        "Why the test is done",
        [("", "not known yet"), *Indication.choices],
        "Choose a reason from the list.",
        required=False,
    )
    indication_text = Words(most=300, label="In words")
    referrer = Words(most=160, label="Asked for by")
    entered_later = forms.BooleanField(
        required=False,
        label="Entered later",
        help_text="It was measured on paper; the times are typed, and the record says so.",
    )

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["booked_for"].initial = clock.now

    def clean(self) -> dict[str, Any]:
        """Asked together with what else is missing, not after it."""
        said = super().clean() or {}
        if said.get("indication") == Indication.OTHER and said.get("indication_text") == "":
            self.add_error("indication_text", OTHER_REASON_MISSING)
        return said


class CorrectForm(forms.Form):
    """Put another value in the place of a reading."""

    typed = forms.CharField(
        label="New value",
        required=False,
        strip=False,
        max_length=250,
        help_text="Empty takes the reading back without another in its place.",
        widget=forms.TextInput(attrs={"inputmode": "tel", "autocomplete": "off"}),
    )
    technique = forms.ChoiceField()
    reason = Words(most=200, missing="Say why it is corrected.", label="Why it is corrected")
    override_because = Words(most=200, label="Why a cuff was inflated although “do not inflate” stands here")

    def __init__(self, *args: Any, site: str, locked: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.site = site
        offered = [(one, str(Technique(one).label)) for one in TECHNIQUES[kind_of_site(site)]]
        self.fields["technique"] = _choice("Technique", offered, "Choose how it was measured.")
        if not locked:
            del self.fields["override_because"]

    def clean_typed(self) -> TypedReading | None:
        return read_reading(self.cleaned_data["typed"], self.site)


class CorrectConditionForm(forms.Form):
    """Put another value in the place of a condition, once the exam is measured."""

    typed = forms.CharField(label="New value", required=False, strip=False, max_length=300)
    reason = Words(most=200, missing="Say why it is corrected.", label="Why it is corrected")
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, *args: Any, field: Field, **options: Any) -> None:
        super().__init__(*args, **{"initial": {"seen": field.row_id}, **options})
        self.item = field.name
        offered = CHOICES.get(PreparationItem(field.name))
        if offered:
            self.fields["typed"] = forms.ChoiceField(
                label="New value", required=False, choices=[("", ""), *offered.items()]
            )
        self.fields["typed"].help_text = "Empty takes it back without another in its place."

    def clean_typed(self) -> str:
        return read_preparation(self.cleaned_data["typed"], self.item)


class HandOverForm(forms.Form):
    """Who was told. Every line is needed before the slip closes."""

    told_name = Words(most=120, missing="Who was told?", label="Who was told")
    told_role = Words(most=120, missing="In which role?", label="Their role")
    told_number = Words(most=60, missing="On which number?", label="Number called")
    told_by = forms.ChoiceField()
    told_at = Moment("When?", label="When")
    read_back = Words(most=300, missing="What did they read back?", label="What they read back")
    agreed = Words(most=1000, missing="What was agreed?", label="What was agreed")
    patient_told = _choice(
        "Was the patient told?", [("", ""), ("yes", "yes"), ("no", "no")], "Was the patient told?"
    )

    def __init__(self, *args: Any, person: Person, **options: Any) -> None:
        super().__init__(*args, **options)
        self.staff = {str(user.pk): user for user in tellers(person)}
        names = [(pk, user.full_name) for pk, user in self.staff.items()]
        self.fields["told_by"] = _choice("Told by", names, "Who told them?", initial=str(person.user.pk))
        self.fields["told_at"].initial = clock.now

    def clean_told_by(self) -> Any:
        return self.staff[self.cleaned_data["told_by"]]


class AttemptForm(forms.Form):
    """A try to reach someone that failed."""

    whom = Words(most=120, missing="Whom did you try to reach?", label="Whom")
    number = Words(most=60, label="Number")
    outcome = Words(most=200, missing="What happened?", label="What happened")
    tried_at = Moment("When?", label="When")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["tried_at"].initial = clock.now


class ErrorForm(forms.Form):
    """The slip was raised in error."""

    because = Words(most=300, missing="Say why it was raised in error.", label="Why it was raised in error")


class AdoptForm(forms.Form):
    """Adopt criteria."""

    name = forms.CharField(max_length=60)
    version = forms.CharField(max_length=20)


class EntryForm(forms.Form):
    """One field of the sheet as the browser sends it."""

    field = forms.CharField(max_length=60)
    typed = forms.CharField(required=False, strip=False, max_length=400)
    technique = forms.CharField(required=False, max_length=20)
    client_id = forms.UUIDField()
    seen_revision = forms.IntegerField(min_value=0)
    typed_at = forms.DateTimeField(required=False)
    remark_answer = Words(most=200)
    override_because = Words(most=200)
    reason = Words(most=200)
    cuff_mm = forms.CharField(required=False, max_length=20)
    author = forms.IntegerField(required=False)

    def entry(self) -> Entry:
        """What was sent, as the service takes it; call after `is_valid`."""
        said = dict(self.cleaned_data)
        said.pop("author")
        return Entry(**said)

    def words(self) -> str:
        """All that is wrong, in one line."""
        return " ".join(
            str(words) if isinstance(self.fields[name], Words) else f"{name}: {words}"
            for name, errors in self.errors.items()
            for words in errors
        )


def changed_entries(sheet: Sheet, posted: Mapping[str, str]) -> list[Entry]:
    """What differs from the sheet in a whole form sent without JavaScript.

    Beside each field stand ``seen.<field>`` (the revision shown), ``remark.<field>`` and, where a cuff is
    forbidden, ``override.<field>``; technique and cuff are ``technique.<group>`` and ``cuff.<group>``. A
    field that was not sent is left as it is.
    """
    entries = [
        _entry(
            field,
            posted,
            posted.get(f"technique.{group.key}", group.technique),
            posted.get(f"cuff.{group.key}", ""),
        )
        for group in sheet.groups
        for field in group.fields
    ]
    entries += [_entry(field, posted, "", "") for field in sheet.preparation]
    return [entry for entry in entries if entry is not None]


def _entry(field: Field, posted: Mapping[str, str], technique: str, cuff_mm: str) -> Entry | None:
    # A box that is not ticked is not sent at all; only its revision tells that it was on the page.
    ticked = field.kind == "yes" and f"seen.{field.name}" in posted
    typed = posted.get(field.name, "" if ticked else field.typed)[:400]
    answer = posted.get(f"remark.{field.name}", "")
    other_technique = bool(field.typed) and bool(field.site) and technique != field.technique
    if typed.strip() == field.typed and not answer.strip() and not other_technique:
        return None
    seen = posted.get(f"seen.{field.name}", "")
    return Entry(
        field=field.name,
        typed=typed,
        client_id=uuid4(),
        # Without a revision nobody knows what was shown; such a form only fills empty fields.
        seen_revision=int(seen) if seen.isascii() and seen.isdecimal() and len(seen) < 19 else 0,
        technique=technique,
        remark_answer=answer,
        override_because=posted.get(f"override.{field.name}", ""),
        cuff_mm=cuff_mm,
    )


def paper_time(text: str, day: datetime) -> datetime | None:
    """A time such as 10:05 on the exam's day in the zone of `day`; None if empty.

    Raises
    ------
    ValidationError
        If it is no time of day.
    """
    words = text.strip()
    if not words:
        return None
    try:
        at = datetime.strptime(words.replace(".", ":"), "%H:%M").time()  # noqa: DTZ007
    except ValueError:
        raise ValidationError(f"“{words[:20]}” is not a time. Write it like 10:05.") from None
    return day.replace(hour=at.hour, minute=at.minute, second=0, microsecond=0)
