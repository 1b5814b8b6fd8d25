"""What may be typed of an agreement study; the words when it may not."""

from collections.abc import Sequence
from typing import Any

from django import forms

from access.models import User
from exams.patients.typed_date import written
from exams.visits.agreement.queries import day_of
from exams.visits.forms import Words
from exams.visits.models import Exam


class RepeatForm(forms.Form):
    """An exam repeats an earlier one."""

    use_required_attribute = False
    first = forms.ChoiceField()
    study = Words(
        most=120, missing="Name the study.", label="Study", help_text="Such as: agreement, autumn 2026"
    )
    recuffed_by = forms.ChoiceField()
    recuffed = forms.BooleanField(
        label="Every cuff was taken off and laid again",
        error_messages={
            "required": "A cuff left on hides part of the noise. Tick this only if every cuff was laid again."
        },
    )

    def __init__(
        self, *args: Any, exam: Exam, offered: Sequence[Exam], staff: Sequence[User], by: User, **options: Any
    ) -> None:
        super().__init__(*args, **{"label_suffix": "", **options})
        self.exams = {str(one.pk): one for one in offered}
        self.staff = {str(one.pk): one for one in staff}
        self.fields["first"] = _choice(
            "Which exam it repeats",
            [
                (pk, f"{written(day_of(one, exam.clinic))}, {one.get_exam_type_display()}")
                for pk, one in self.exams.items()
            ],
            "Choose which exam it repeats.",
        )
        self.fields["recuffed_by"] = _choice(
            "Who laid the cuffs again",
            [(pk, one.full_name) for pk, one in self.staff.items()],
            "Choose who laid the cuffs again.",
            initial=str(exam.measured_by_id or by.pk),
        )

    def clean_first(self) -> Exam:
        return self.exams[self.cleaned_data["first"]]

    def clean_recuffed_by(self) -> User:
        return self.staff[self.cleaned_data["recuffed_by"]]


class WithdrawForm(forms.Form):
    use_required_attribute = False
    because = Words(
        most=200, missing="Say why it is no repeat after all.", label="Why it is no repeat after all"
    )


def _choice(label: str, choices: list[tuple[str, str]], missing: str, **options: Any) -> forms.ChoiceField:
    errors = {"required": missing, "invalid_choice": missing}
    return forms.ChoiceField(
        label=label, choices=[("", "Choose"), *choices], error_messages=errors, **options
    )
