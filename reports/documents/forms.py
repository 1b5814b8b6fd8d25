"""What may be typed as a conclusion, and the words when it may not."""

import re
from typing import Any

from django import forms

from exams.hemodynamics import Interpretation, NotStated, Side, conclusion_draft
from reports.documents.conclusion import written_of

LONGEST = 4000
# Patterns of a limb whose ankle says nothing against disease while the toe is not known (clinical.md 2.2).
NOTHING_EXCLUDED = frozenset({"INCOMPLETE_NEEDS_TBI", "INCOMPLETE_ADVISE_TBI"})
# "Cannot be ruled out" is what should be written, so only the bare claim is refused.
_EXCLUDED = re.compile(r"\bexcluded\b|(?<!cannot be )(?<!not be )(?<!not )\bruled out\b", re.IGNORECASE)
_CALL = re.compile(r"\b(urgent|urgently|emergency|severe|critical)\b", re.IGNORECASE)
# "Within the normal range" is said of one index, not of a limb.
_NORMAL = re.compile(r"(?<!not )(?<!the )\bnormal\b|\bexcluded\b|\bno sign of\b", re.IGNORECASE)
_SENTENCE_END = re.compile(r"(?<=\.)\s+")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_MMHG = re.compile(r"(\d+(?:\.\d+)?) ?mmHg", re.IGNORECASE)


class ConclusionForm(forms.Form):
    """The conclusion as it will be printed.

    A remark does not refuse: it is shown once beside the text, and the report is made when it was read.
    """

    conclusion = forms.CharField(
        label="Conclusion",
        help_text="Answer the question of the referral, RIGHT then LEFT. Drafted from the findings.",
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": 9}),
        error_messages={
            "required": "Write a conclusion, or open the page again for the drafted one.",
            "max_length": f"This is longer than {LONGEST} characters. It is kept below: shorten it.",
        },
    )
    drafted = forms.CharField(widget=forms.HiddenInput, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)
    after = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0)
    remarks_read = forms.CharField(required=False)

    def __init__(self, *args: Any, interpretation: Interpretation, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._found = interpretation
        self.remarks: tuple[str, ...] = ()

    @property
    def hidden_errors(self) -> bool:
        """Whether something the person cannot see came back spoilt."""
        return any(field.errors for field in self.hidden_fields())

    def clean_conclusion(self) -> str:
        text = self.cleaned_data["conclusion"].replace("\r\n", "\n").strip()
        word = _EXCLUDED.search(text)
        limbs = [side for side in Side if _nothing_excluded(self._found, side)]
        if word and limbs:
            named = " and ".join(side.word for side in limbs)
            raise forms.ValidationError(
                f"“{word[0]}” may not stand here: no toe-brachial index of {named}, and an ankle index that "
                "is normal or high does not rule out disease where arteries may be stiff. "
                "Your text is kept. Write that disease remains possible and ask for a toe pressure."
            )
        return text

    def clean(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        if "conclusion" in cleaned:
            self.remarks = remarks(cleaned["conclusion"], self._found)
            if self.remarks and not cleaned.get("remarks_read"):
                self.add_error("remarks_read", "Read the remarks, then tick the box or change the text.")
        return cleaned


def remarks(conclusion: str, found: Interpretation) -> tuple[str, ...]:
    """Where the text and the data do not seem to speak of the same limbs."""
    said = []
    for side in Side:
        named = re.search(rf"\b{side.word}\b", conclusion, re.IGNORECASE)
        measured = _has_value(found, side)
        if named and not measured:
            said.append(f"The conclusion speaks of {side.word}, but no pressure of that limb has a value.")
        if measured and not named:
            said.append(f"{side.word} was measured, but the conclusion does not speak of it.")
        said += _against_the_findings(conclusion, found, side)
    return tuple(said)


def _against_the_findings(conclusion: str, found: Interpretation, side: Side) -> list[str]:
    """Where what is written of one limb contradicts it: urgency left out, called normal, another number."""
    written = written_of(side, conclusion)
    if not written:
        return []
    drafted = set(_SENTENCE_END.split(written_of(side, conclusion_draft(found))))
    own = " ".join(one for one in _SENTENCE_END.split(written) if one not in drafted)
    said = []
    urgency, pattern = found.of("urgency", side), found.of("pattern", side)
    if urgency is not None and not _CALL.search(written):
        said.append(f"{side.word} is {urgency.shown} by the findings, but the conclusion does not say so.")
    if pattern is not None and pattern.band != "NORMAL" and _NORMAL.search(own):
        said.append(f"The conclusion calls {side.word} normal; the findings say: {pattern.shown}.")
    known = {number for one in found.findings for number in _NUMBER.findall(f"{one.shown} {one.sentence}")}
    strange = [number for number in _MMHG.findall(written) if number not in known]
    said += [f"{number} mmHg, written of {side.word}, is no value of this exam." for number in strange]
    return said


def _nothing_excluded(found: Interpretation, side: Side) -> bool:
    pattern = found.of("pattern", side)
    return pattern is not None and pattern.band in NOTHING_EXCLUDED


def _has_value(found: Interpretation, side: Side) -> bool:
    """Whether the foot was measured: no signal and a stiff artery are results too."""
    feet = [
        one for one in found.on(side) if one.measure.endswith("_pressure") and one.measure != "arm_pressure"
    ]
    return any(
        not isinstance(one.value, NotStated) or one.shown == "no signal" or "occluded" in one.shown
        for one in feet
    )
