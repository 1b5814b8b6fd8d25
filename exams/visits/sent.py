"""What a program sends and is answered of exams, readings and findings, field by field."""

from typing import Any

from django.core.exceptions import ValidationError
from drf_spectacular.utils import extend_schema_field, extend_schema_serializer
from rest_framework import serializers

from access.taken import Choice, Line, Moment, Number, PagedOfPatient, Strict
from exams.patients.models import Side
from exams.visits.models import (
    ExamState,
    ExamType,
    Indication,
    NotObtained,
    Outcome,
    PreparationItem,
    Site,
    Technique,
)
from exams.visits.plan import ATTEMPTS
from exams.visits.queries.listed import Findings
from exams.visits.queries.steps import HOW_IDENTIFIED
from exams.visits.typed import CUFF_LIMITS_MM, HIGHEST_MMHG, TypedReading, read_reading, written

# ---- exams


class ExamsAsked(PagedOfPatient):
    state = Choice(ExamState.choices, required=False)


class ExamSent(Strict):
    """An exam to be booked."""

    patient = Number()
    exam_type = Choice(
        ExamType.choices,
        help_text="Which sites are planned on each side, so that each wants a reading or a reason. toe_only: "
        "arm and toe_1. ankle_and_toe and full: posterior_tibial and dorsalis_pedis too. The next toe "
        "stands in for one that was amputated. Any other site may be recorded as well.",
    )
    booked_for = Moment(help_text="When the person comes; now, if they are here.")
    indication = Choice(Indication.choices, required=False, allow_blank=True)
    indication_text = Line(max_length=300, required=False, allow_blank=True)
    referrer = Line(max_length=160, required=False, allow_blank=True)
    entered_later = serializers.BooleanField(
        required=False, help_text="It was measured before, on paper or elsewhere: its times are typed."
    )


STEPS = (
    ("identity", "the person on the couch is the person of the record; says how"),
    ("indication", "why the test is done; says indication"),
    ("cautions", "both arms and legs were checked for reasons not to inflate a cuff"),
    ("lying_flat", "the rest clock starts; of an exam entered later says when"),
    ("measured", "every planned site has a reading or a reason"),
    ("not_attended", "the person did not come; says because"),
    ("stopped", "ended before it was complete; says because"),
    ("reopen", "opened again; says because"),
)


class StepSent(Strict):
    """One step of an exam. "identity" and "cautions" are a person's word at the couch: pass on what somebody
    there has answered, never a default."""

    step = Choice(STEPS, help_text="In this order; what is sent before its turn is refused in words (422).")
    how = Choice(list(HOW_IDENTIFIED.items()), required=False, help_text="Of identity.")
    indication = Choice(Indication.choices, required=False, help_text="Of indication.")
    indication_text = Line(
        max_length=300, required=False, allow_blank=True, help_text="Wanted where the indication is other."
    )
    referrer = Line(max_length=160, required=False, allow_blank=True)
    because = Line(
        max_length=200, required=False, allow_blank=True, help_text="Of not_attended, stopped and reopen."
    )
    lying_flat_at = Moment(required=False, help_text="Of an exam entered later.")
    first_inflation_at = Moment(required=False, help_text="Of an exam entered later.")


class ConditionSent(Strict):
    """One condition of an exam, as a person would type it; empty takes it back."""

    item = Choice(PreparationItem.choices)
    value = Line(max_length=300, allow_blank=True)
    because = Line(
        max_length=200, required=False, allow_blank=True, help_text="Wanted once the exam is measured."
    )


@extend_schema_serializer(component_name="Exam")
class ExamAnswer(serializers.Serializer):
    """An exam as it stands."""

    exam = serializers.IntegerField(source="pk", help_text="Its number here.")
    patient = serializers.IntegerField(source="patient_id")
    exam_type = serializers.ChoiceField(ExamType.choices)
    state = serializers.ChoiceField(ExamState.choices)
    limited = serializers.BooleanField()
    booked_for = serializers.DateTimeField()
    indication = serializers.CharField(allow_blank=True)
    indication_text = serializers.CharField(allow_blank=True)
    referrer = serializers.CharField(allow_blank=True)
    entered_later = serializers.BooleanField()
    identity_confirmed_at = serializers.DateTimeField(allow_null=True)
    cautions_confirmed_at = serializers.DateTimeField(allow_null=True)
    lying_flat_at = serializers.DateTimeField(allow_null=True)
    first_inflation_at = serializers.DateTimeField(allow_null=True)
    measured_at = serializers.DateTimeField(allow_null=True)
    closed_because = serializers.CharField(allow_blank=True)
    criteria = serializers.CharField(allow_blank=True)
    criteria_version = serializers.CharField(allow_blank=True)


@extend_schema_serializer(component_name="ExamWhole")
class WholeExamAnswer(ExamAnswer):
    """The same, with the conditions it was measured under."""

    conditions = serializers.DictField(
        child=serializers.CharField(), help_text="What stands, by the name of the condition."
    )


# ---- readings


class ReadingsAsked(PagedOfPatient):
    exam = Number(required=False)
    side = Choice(Side.choices, required=False)
    site = Choice(Site.choices, required=False)


class _Value(Strict):
    outcome = Choice(Outcome.choices)
    pressure_mmhg = serializers.DecimalField(
        max_digits=4,
        decimal_places=1,
        min_value=0,
        max_value=HIGHEST_MMHG,
        coerce_to_string=False,
        required=False,
        allow_null=True,
        error_messages=dict.fromkeys(
            ("max_digits", "max_whole_digits", "max_decimal_places", "max_value", "min_value"),
            f"A pressure is 1 to {HIGHEST_MMHG} mmHg, whole or half, such as 120 or 54.5.",
        ),
        help_text="Whole or half mmHg. Of not_occludable the cuff pressure reached. Of these two only.",
    )
    reason = Choice(NotObtained.choices, required=False, allow_blank=True, help_text="Of not_obtained.")
    reason_text = Line(max_length=200, required=False, allow_blank=True)
    technique = Choice(
        Technique.choices,
        help_text="At arm and ankle doppler or oscillometric, at a toe any. Wanted without a reading too.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """What belongs together: a pressure with where there is one, a reason with where there is none."""
        pressure, reason = attrs.get("pressure_mmhg"), attrs.get("reason", "")
        measured = attrs["outcome"] in (Outcome.PRESSURE, Outcome.NOT_OCCLUDABLE)
        if measured and pressure is None:
            raise serializers.ValidationError({"pressure_mmhg": "Say the pressure in mmHg."}, code="required")
        if not measured and pressure is not None:
            raise serializers.ValidationError(
                {"pressure_mmhg": "Where nothing was measured there is no pressure."}, code="not_together"
            )
        if (attrs["outcome"] == Outcome.NOT_OBTAINED) != bool(reason):
            raise serializers.ValidationError(
                {"reason": "A reason belongs to not_obtained, and is wanted there."}, code="not_together"
            )
        return attrs


def value_said(said: dict[str, Any], site: str) -> TypedReading | None:
    """The value as the sheet reads it: by the one mapping from what is typed, with the same limits.

    Raises
    ------
    ValidationError
        At ``pressure_mmhg`` or ``reason_text``, in the words of the sheet.
    """
    outcome = said["outcome"]
    typed = written(outcome, said.get("pressure_mmhg"), said.get("reason", ""), said.get("reason_text", ""))
    try:
        return read_reading(typed, site)
    except ValidationError as refused:
        field = "reason_text" if outcome == Outcome.NOT_OBTAINED else "pressure_mmhg"
        raise ValidationError({field: refused.error_list}) from None


class ReadingSent(_Value):
    """What was measured at one site, or why nothing was."""

    side = Choice(Side.choices)
    site = Choice(Site.choices)
    attempt = serializers.IntegerField(
        min_value=1, max_value=max(ATTEMPTS), required=False, help_text="The next free one if left out."
    )
    cuff_width_mm = serializers.IntegerField(
        min_value=CUFF_LIMITS_MM[0], max_value=CUFF_LIMITS_MM[1], required=False, allow_null=True
    )
    measured_at = Moment(required=False, help_text="The time of arrival if left out; never after it.")


class ReadingCorrected(_Value):
    """What it really was, and why it is changed."""

    because = Line(max_length=200)


@extend_schema_serializer(component_name="Reading")
class ReadingAnswer(serializers.Serializer):
    """A reading. None is ever overwritten: a correction is another one, which names what it replaces."""

    reading = serializers.IntegerField(source="pk", help_text="Its number here.")
    exam = serializers.IntegerField(source="exam_id")
    patient = serializers.IntegerField(source="exam.patient_id")
    side = serializers.ChoiceField(Side.choices)
    site = serializers.ChoiceField(Site.choices)
    attempt = serializers.IntegerField()
    outcome = serializers.ChoiceField(Outcome.choices)
    pressure_mmhg = serializers.FloatField(allow_null=True)
    reason = serializers.CharField(allow_blank=True)
    reason_text = serializers.CharField(allow_blank=True)
    technique = serializers.ChoiceField(Technique.choices)
    cuff_width_mm = serializers.IntegerField(allow_null=True)
    measured_at = serializers.DateTimeField(source="typed_at")
    entered_by = serializers.CharField(source="entered_by.full_name")
    withdrawn = serializers.BooleanField()
    replaces = serializers.IntegerField(source="replaces_id", allow_null=True)
    replaced_by = serializers.SerializerMethodField()
    because = serializers.CharField(source="replaced_because", allow_blank=True)

    @extend_schema_field(serializers.IntegerField(allow_null=True))
    def get_replaced_by(self, reading: Any) -> int | None:
        later = getattr(reading, "replaced_by", None)
        return later.pk if later else None


# ---- hand-over of critical results


class HandOversAsked(PagedOfPatient):
    """``since`` and ``until`` are about the moment in which it was raised."""

    exam = Number(required=False)
    waiting = serializers.BooleanField(default=False, help_text="Only where nobody was told yet.")


@extend_schema_serializer(component_name="HandOver")
class HandOverAnswer(serializers.Serializer):
    """A critical result that a person must be told of. Reading it here tells no one."""

    hand_over = serializers.IntegerField(source="pk", help_text="Its number here.")
    exam = serializers.IntegerField(source="exam_id")
    patient = serializers.IntegerField(source="exam.patient_id")
    limb = serializers.ChoiceField(Side.choices)
    flag = serializers.CharField(help_text="How urgent it is, as a code of the criteria.")
    sentence = serializers.CharField()
    reads_now = serializers.CharField(
        allow_blank=True, help_text="What the limb reads since the value was changed; empty while it stands."
    )
    raised_at = serializers.DateTimeField()
    due_at = serializers.DateTimeField(allow_null=True)
    told_name = serializers.CharField(allow_blank=True)
    told_role = serializers.CharField(allow_blank=True)
    told_by = serializers.CharField(source="told_by.full_name", default="")
    told_at = serializers.DateTimeField(allow_null=True)
    agreed = serializers.CharField(allow_blank=True)
    closed_at = serializers.DateTimeField(allow_null=True, help_text="Null: somebody must still be told.")
    raised_in_error_because = serializers.CharField(allow_blank=True)
    taken_over_by = serializers.IntegerField(
        source="taken_over_by_id", allow_null=True, help_text="The graver one of the same limb."
    )


# ---- findings


class FindingsAsked(PagedOfPatient):
    exam = Number(required=False)
    limb = Choice(Side.choices, required=False)
    measure = Line(max_length=60, required=False, help_text="Such as toe_pressure or toe_brachial_index.")


@extend_schema_serializer(component_name="Finding")
class FindingAnswer(serializers.Serializer):
    """One line of the interpretation of an exam. Support for a clinician's judgement, never a diagnosis."""

    measure = serializers.CharField(
        help_text="A stable code such as ankle_brachial_index. New ones may come: skip what you do not know."
    )
    limb = serializers.ChoiceField(Side.choices, allow_blank=True, help_text="Empty: the whole exam.")
    value = serializers.FloatField(allow_null=True, help_text="Null where nothing can be stated.")
    not_stated = serializers.CharField(allow_blank=True, help_text="Why there is no value.")
    unit = serializers.CharField(allow_blank=True)
    shown = serializers.CharField(allow_blank=True, help_text="The value as a screen shows it.")
    low = serializers.FloatField(allow_null=True, help_text="95 % interval.")
    high = serializers.FloatField(allow_null=True)
    band = serializers.CharField(
        allow_blank=True, help_text="A stable code; band_words says it for a person."
    )
    band_words = serializers.CharField(allow_blank=True)
    flags = serializers.ListField(
        child=serializers.CharField(), help_text="Stable codes of what makes the value worth less."
    )
    sentence = serializers.CharField(allow_blank=True)
    rule = serializers.CharField(allow_blank=True)
    source = serializers.CharField(allow_blank=True)  # type: ignore[assignment]


@extend_schema_serializer(component_name="FindingOfExam")
class ListedFindingAnswer(FindingAnswer):
    """The same in a list over several exams."""

    finding = serializers.IntegerField(help_text="Its number; another once the exam is read again.")
    exam = serializers.IntegerField()
    patient = serializers.IntegerField()
    criteria = serializers.CharField()
    criteria_version = serializers.CharField()


@extend_schema_serializer(component_name="Findings")
class FindingsAnswer(serializers.Serializer):
    """Every finding of an exam under one set of criteria, and the conclusion drafted from them."""

    exam = serializers.IntegerField()
    patient = serializers.IntegerField()
    criteria = serializers.CharField()
    criteria_version = serializers.CharField()
    conclusion_drafted = serializers.CharField(
        allow_blank=True, help_text="A draft for whoever concludes, in plain words."
    )
    findings = FindingAnswer(many=True)


def finding_said(finding: dict[str, Any]) -> dict[str, Any]:
    """A finding as it is stored (``Finding.to_json``), as ``FindingAnswer`` describes it."""
    value, interval = finding["value"], finding["interval"]
    return {
        "measure": finding["measure"],
        "limb": finding["limb"] or "",
        "value": float(value["value"]) if "value" in value else None,
        "not_stated": value.get("not_stated", ""),
        "unit": finding["unit"],
        "shown": finding["shown"],
        "low": float(interval["low"]) if "low" in interval else None,
        "high": float(interval["high"]) if "high" in interval else None,
        "band": finding["band"],
        "band_words": finding["band_words"],
        "flags": finding["flags"],
        "sentence": finding["sentence"],
        "rule": finding["rule"],
        "source": finding["source"],
    }


def findings_said(read: Findings) -> dict[str, Any]:
    """All findings of an exam, as ``FindingsAnswer`` describes them."""
    return {
        "exam": read.exam.pk,
        "patient": read.exam.patient_id,
        "criteria": read.found.criteria_name,
        "criteria_version": read.found.criteria_version,
        "conclusion_drafted": read.conclusion,
        "findings": [finding_said(one.to_json()) for one in read.found.findings],
    }
