"""What may be said at the Trace desk; the words when it may not."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from exams.traces.desk import REASONS, Desk
from exams.traces.models import How, Verdict
from exams.traces.services.marks import ForSheet
from exams.visits.forms import Words
from exams.visits.models import Outcome
from exams.visits.typed import read_reading

READ = (Verdict.GOOD, Verdict.CAUTION)
READ_ANEW = "This recording was read anew meanwhile. Look at it again; nothing was stored."
KEPT = "Nothing was stored; what you typed is still here."


class MarkForm(forms.Form):
    """A verdict, where the mark stands, and why. Which fields count depends on the verdict."""

    analysis = forms.IntegerField(error_messages={"required": READ_ANEW, "invalid": READ_ANEW})
    verdict = forms.ChoiceField(
        choices=Verdict.choices,
        error_messages={
            "required": "Say what you make of it: good, usable with caution, unreadable, or repeat.",
            "invalid_choice": "Choose one of the four verdicts.",
        },
    )
    mark = forms.CharField(required=False, max_length=20)
    pressure = forms.CharField(required=False, max_length=40)
    time_s = forms.FloatField(required=False)
    reason = forms.ChoiceField(required=False, choices=[("", ""), *REASONS.items()])
    words = Words(most=120)
    sheet = forms.ChoiceField(
        required=False, choices=[(one.value, one.value) for one in ForSheet], initial=ForSheet.WRITE
    )
    seen = forms.IntegerField(required=False, min_value=0)
    not_obtained = forms.BooleanField(required=False)
    told = forms.BooleanField(required=False)

    def __init__(self, *args: Any, desk: Desk, **options: Any) -> None:
        super().__init__(*args, **options)
        self.desk = desk

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("verdict") not in READ or self.errors.get("pressure"):
            return said
        chosen = said.get("mark", "")
        offered = {one.key: one for one in self.desk.choices}
        if chosen in offered:
            one = offered[chosen]
            said["mmhg"], said["time_s"] = Decimal(one.mmhg), one.time_s
            said["how"] = How.ACCEPTED if chosen == "suggested" else How.MOVED
        elif said.get("pressure", "").strip():
            said["mmhg"], said["how"] = self._typed(said["pressure"]), How.MOVED
        else:
            why = self.desk.suggestion.why_not_offered if self.desk.suggestion else ""
            self.add_error("pressure", why or "Put the mark first, or type its pressure.")
        return said

    def _typed(self, text: str) -> Decimal | None:
        try:
            read = read_reading(text.lower().removesuffix("mmhg"), self.desk.site)
        except ValidationError as refused:
            self.add_error("pressure", refused.messages[0].replace("Your other readings are kept.", KEPT))
            return None
        if read is None or read.outcome != Outcome.PRESSURE:
            self.add_error("pressure", "Type a pressure in mmHg, whole or half.")
            return None
        return read.pressure_mmhg

    def mark_said(self) -> dict[str, Any]:
        """The verdict as the service takes it; call after `is_valid`."""
        said = self.cleaned_data
        return {
            "verdict": said["verdict"],
            "pressure_mmhg": said.get("mmhg"),
            "time_s": said.get("time_s"),
            "how": said.get("how", How.NONE),
            "reason": self._reason(),
            "sheet": ForSheet(said.get("sheet") or ForSheet.WRITE),
            "seen_revision": said.get("seen"),
            "not_obtained": said.get("not_obtained", False),
            "told": said.get("told", False),
        }

    def _reason(self) -> str:
        """The reason of the list, and the person's own words after it."""
        picked = REASONS.get(self.cleaned_data.get("reason", ""), "")
        if self.cleaned_data["verdict"] in READ:
            picked = ""
        return "; ".join(part for part in (picked, self.cleaned_data.get("words", "")) if part)
