"""What a program sends and is answered of further tests, field by field."""

from collections.abc import Mapping
from typing import Any, get_args

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from access.taken import Line, Lines, Strict
from exams.visits.further.catalogue import ASKS, Ask, Kind
from exams.visits.further.models import FurtherTest
from exams.visits.further.tables import title_of
from exams.visits.further.typed import shown_of, typed_of

MOST_LETTERS = 300
KINDS = [(kind, kind) for kind in get_args(Kind)]


class FurtherSent(Strict):
    """Values of one test by the names of their fields; what is left out stays, an empty text takes back."""

    values = serializers.DictField(
        child=Lines(max_length=MOST_LETTERS, allow_blank=True),
        allow_empty=False,
        help_text="As a person would type them at the sheet. A pressure: 104 or 62.5; *250 where the artery "
        "could not be occluded at 250; / without a signal; - and a reason's number, such as -2, where "
        "nothing was measured. A time: minutes, such as 2, 2.5 or 2:30. A choice: its word. Codes: their "
        "numbers, such as 1 3.",
    )
    because = Line(
        max_length=200, required=False, allow_blank=True, help_text="Wanted once the exam is measured."
    )


@extend_schema_serializer(component_name="FurtherField")
class FieldAnswer(serializers.Serializer):
    """One value that a test asks for, and what stands there."""

    field = serializers.CharField(help_text="Its name.")
    words = serializers.CharField(help_text="What it asks for.")
    kind = serializers.ChoiceField(KINDS)
    unit = serializers.CharField(allow_blank=True)
    choices = serializers.ListField(
        child=serializers.CharField(), help_text="Of a choice or of codes, in the order of their numbers."
    )
    typed = serializers.CharField(allow_blank=True, help_text="What stands, as it would be sent.")
    shown = serializers.CharField(allow_blank=True, help_text="The same as it is read out.")


@extend_schema_serializer(component_name="FurtherTest")
class FurtherTestAnswer(serializers.Serializer):
    """One further test of an exam: everything it asks for, and what stands."""

    exam = serializers.IntegerField()
    patient = serializers.IntegerField()
    test = serializers.ChoiceField(FurtherTest.choices)
    words = serializers.CharField()
    fields = FieldAnswer(many=True)  # type: ignore[assignment]


@extend_schema_serializer(component_name="FurtherTests")
class FurtherTestsAnswer(serializers.Serializer):
    """The further tests of an exam of which something was entered."""

    exam = serializers.IntegerField()
    patient = serializers.IntegerField()
    entered = serializers.ListField(
        child=serializers.ChoiceField(FurtherTest.choices), help_text="Each can be read below this address."
    )


def further_said(exam: Any, test: FurtherTest, entered: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    """One test, as ``FurtherTestAnswer`` describes it."""
    values = entered.get(test, {})
    return {
        "exam": exam.pk,
        "patient": exam.patient_id,
        "test": test.value,
        "words": title_of(test),
        "fields": [_field(ask, values.get(ask.name, "")) for ask in ASKS[test].values()],
    }


def _field(ask: Ask, value: str) -> dict[str, Any]:
    return {
        "field": ask.name,
        "words": ask.spoken,
        "kind": ask.kind,
        "unit": ask.unit,
        "choices": list(ask.choices),
        "typed": typed_of(value, ask),
        "shown": shown_of(value, ask),
    }
