"""What a device may send and what it is answered, field by field; the words where a value will not do."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from drf_spectacular.utils import extend_schema_field, extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Number, PagedOfPatient, Strict
from exams.patients.models import Side
from exams.traces.files import MOST_SAMPLES
from exams.traces.models import Format, How, Kind, State, Verdict
from exams.traces.samples import Floats
from exams.traces.services.growing import MOST_PIECES, Samples
from exams.traces.services.sending import Said
from exams.visits.models import Site, Technique

_PLAIN = {int, float}
_OR_MISSING = {int, float, type(None)}


class Numbers(serializers.Field):
    """A list of numbers as an array; read whole, since one check a number would take seconds."""

    missing_allowed = True
    default_error_messages = {
        "not_numbers": "It must be a list of numbers; a missing one is null.",
        "not_times": "It must be a list of numbers, without gaps.",
        "empty": "It is empty.",
        "too_many": f"It may hold {MOST_SAMPLES} numbers.",
        "not_finite": "A number in it is too large to be one.",
    }

    def to_internal_value(self, data: Any) -> Floats:
        if not isinstance(data, list) or not {*map(type, data)} <= (
            _OR_MISSING if self.missing_allowed else _PLAIN
        ):
            self.fail("not_numbers" if self.missing_allowed else "not_times")
        if not data:
            self.fail("empty")
        if len(data) > MOST_SAMPLES:
            self.fail("too_many")
        try:
            array = np.array(data, dtype=np.float64)
        except OverflowError:
            self.fail("not_finite")
        if np.isinf(array).any():
            self.fail("not_finite")
        return array


@extend_schema_field({"type": "array", "items": {"type": "number", "nullable": True}, "minItems": 1})
class Values(Numbers):
    pass


@extend_schema_field({"type": "array", "items": {"type": "number"}, "minItems": 1})
class Times(Numbers):
    missing_allowed = False


class _WithSamples(Strict):
    time_s = Times(help_text="Seconds of one clock, never falling.")
    cuff_mmhg = Values(help_text="Cuff pressure in mmHg at these times; null where it is missing.")
    signal = Values(help_text="The sensor's signal at these times, in any unit; null where it is missing.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        for name in ("cuff_mmhg", "signal"):
            if len(attrs[name]) != len(attrs["time_s"]):
                raise serializers.ValidationError(
                    {name: f"It holds {len(attrs[name])} numbers, time_s {len(attrs['time_s'])}."},
                    code="lengths_differ",
                )
        if (np.diff(attrs["time_s"]) < 0).any():
            raise serializers.ValidationError({"time_s": "The times fall somewhere."}, code="time_falls")
        return attrs

    @property
    def samples(self) -> Samples:
        sent = self.validated_data
        return Samples(sent["time_s"], sent["cuff_mmhg"], sent["signal"])


class _WithPlace(Strict):
    exam = serializers.IntegerField(
        min_value=1, max_value=2**63 - 1, help_text="The exam's number, as it stands on its sheet."
    )
    side = Choice(Side.choices)
    site = Choice(Site.choices)
    attempt = serializers.IntegerField(
        min_value=1, max_value=3, required=False, help_text="The next free one if left out."
    )
    technique = Choice(Technique.choices)
    recorded_at = serializers.DateTimeField(
        required=False, help_text="When the recording began; the time of arrival if left out."
    )

    @property
    def exam_number(self) -> int:
        return int(self.validated_data["exam"])

    @property
    def said(self) -> Said:
        sent = self.validated_data
        return Said(
            side=sent["side"],
            site=sent["site"],
            attempt=sent.get("attempt"),
            technique=sent["technique"],
            recorded_at=sent.get("recorded_at"),
        )


class TraceBegun(_WithPlace):
    """What is recorded, where."""


class TraceSent(_WithPlace, _WithSamples):
    """A whole recording."""


class FileSent(_WithPlace):
    """A whole recording as a file."""

    file = serializers.FileField(
        max_length=255, help_text="A table (CSV) with the header time_s,cuff_mmhg,ppg, or a recording in EDF."
    )


class PieceSent(_WithSamples):
    """A part of a recording, which follows the one before in time."""


class EndSent(Strict):
    """The end of a recording."""

    pieces = serializers.IntegerField(
        min_value=1, max_value=MOST_PIECES, help_text="The number of the last piece sent."
    )


@dataclass(frozen=True)
class Recording:
    """What is said back of a recording."""

    trace: int
    exam: int
    attempt: int
    state: str
    pieces_there: int
    pieces_missing: list[int]


@extend_schema_serializer(component_name="Trace")
class TraceAnswer(serializers.Serializer):
    """A recording as it stands here."""

    trace = serializers.IntegerField(help_text="Its number here.")
    exam = serializers.IntegerField()
    attempt = serializers.IntegerField()
    state = serializers.ChoiceField(State.choices)
    pieces_there = serializers.IntegerField()
    pieces_missing = serializers.ListField(
        child=serializers.IntegerField(),
        help_text="Numbers up to the last piece there that have not arrived.",
    )


class TracesAsked(PagedOfPatient):
    exam = Number(required=False)
    side = Choice(Side.choices, required=False)
    site = Choice(Site.choices, required=False)


@extend_schema_serializer(component_name="TraceReceived")
class ReceivedAnswer(serializers.Serializer):
    """A recording as it was received."""

    trace = serializers.IntegerField(source="pk", help_text="Its number here.")
    exam = serializers.IntegerField(source="exam_id")
    patient = serializers.IntegerField(source="exam.patient_id")
    side = serializers.CharField(allow_blank=True, help_text="Empty until its site is confirmed.")
    site = serializers.CharField(allow_blank=True)
    attempt = serializers.IntegerField()
    technique = serializers.CharField(allow_blank=True)
    kind = serializers.ChoiceField(Kind.choices)
    state = serializers.ChoiceField(State.choices)
    problem = serializers.CharField(allow_blank=True)
    format = serializers.ChoiceField(Format.choices)
    recorded_at = serializers.DateTimeField(allow_null=True)
    received_at = serializers.DateTimeField()
    received_by = serializers.CharField(source="received_by.full_name")
    sample_count = serializers.IntegerField(allow_null=True)
    duration_s = serializers.FloatField(allow_null=True)
    sampling_hz = serializers.FloatField(allow_null=True)
    samples_sha256 = serializers.CharField(allow_blank=True)


@extend_schema_serializer(component_name="Suggestion")
class SuggestionAnswer(serializers.Serializer):
    """What the software makes of a recording. A suggestion for a reader, not a reading."""

    version = serializers.CharField()
    usable = serializers.BooleanField()
    confidence = serializers.CharField()
    pressure_mmhg = serializers.FloatField(allow_null=True)
    low_mmhg = serializers.FloatField(allow_null=True, help_text="95 % interval.")
    high_mmhg = serializers.FloatField(allow_null=True)
    computed_at = serializers.DateTimeField()


@extend_schema_serializer(component_name="Mark")
class MarkAnswer(serializers.Serializer):
    """A reader's verdict. A later one replaces, none is lost."""

    mark = serializers.IntegerField(source="pk")
    verdict = serializers.ChoiceField(Verdict.choices)
    how = serializers.ChoiceField(How.choices)
    pressure_mmhg = serializers.FloatField(allow_null=True)
    reason = serializers.CharField(allow_blank=True)
    blind = serializers.BooleanField()
    marked_at = serializers.DateTimeField()
    marked_by = serializers.CharField(source="marked_by.full_name")
    replaces = serializers.IntegerField(source="replaces_id", allow_null=True)
    reading = serializers.IntegerField(source="reading_id", allow_null=True)


@extend_schema_serializer(component_name="TraceRead")
class ReadAnswer(ReceivedAnswer):
    """The same, with what was read from it."""

    suggestion = SuggestionAnswer(allow_null=True)
    marks = MarkAnswer(many=True)
