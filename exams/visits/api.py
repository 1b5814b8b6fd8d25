"""Exams, their readings and their findings for programs."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

from django.core.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import changes, creates, lists, looks
from access.paging import Asked
from access.refusals import Conflict, Overtaken
from access.trail import one_act
from exams.patients.listed import standing_patient
from exams.patients.sent import Because
from exams.visits import services
from exams.visits.errors import StaleValue
from exams.visits.plan import ATTEMPTS, Place
from exams.visits.queries import listed
from exams.visits.queries.exams import exam_for, hand_over_for
from exams.visits.sent import (
    ConditionSent,
    ExamAnswer,
    ExamsAsked,
    ExamSent,
    FindingsAnswer,
    FindingsAsked,
    HandOverAnswer,
    HandOversAsked,
    ListedFindingAnswer,
    ReadingAnswer,
    ReadingCorrected,
    ReadingsAsked,
    ReadingSent,
    StepSent,
    WholeExamAnswer,
    finding_said,
    findings_said,
    value_said,
)
from exams.visits.services.acts import held
from exams.visits.typed import read_preparation

_NO_SUCH = "No such exam in this clinic."
_STATE = "The key came with something else before."


def exam_said(exam: Any) -> dict[str, Any]:
    return {**ExamAnswer(exam).data, "conditions": listed.conditions_of(exam)}


def reading_said(reading: Any) -> dict[str, Any]:
    return dict(ReadingAnswer(reading).data)


class Exams(Api):
    @lists("list_exams", "exams", "Exams by patient, day and state", ExamAnswer, ExamsAsked)
    def get(self, request: Request) -> Response:
        asked = self.asked(ExamsAsked)
        part = listed.exams_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of exams read by a program", asked=asked, part=part)
        return self.answer_part(part, lambda exam: ExamAnswer(exam).data)

    @creates(
        "book_exam",
        "exams",
        "Book an exam",
        ExamSent,
        WholeExamAnswer,
        s404="No such patient in this clinic.",
        s409=f"{_STATE} Or: the patient's record was merged into another one, which the words name.",
    )
    def post(self, request: Request) -> Response:
        self.idempotency_key()
        said = self.taken(ExamSent)
        patient = standing_patient(self.person, said.pop("patient"))
        exam, new = self.made_once(
            lambda: services.book_exam(patient=patient, by=self.person, **said),
            lambda number: exam_for(self.person, number),
        )
        return self.answer(exam_said(exam), 201 if new else 200)


class Exam(Api):
    @looks("read_exam", "exams", "Read an exam", WholeExamAnswer)
    def get(self, request: Request, exam_id: int) -> Response:
        exam = exam_for(self.person, exam_id)
        self.note("exam read by a program", patient=exam.patient_id, subject=exam)
        return self.answer(exam_said(exam))


class Step(Api):
    @changes(
        "take_step",
        "exams",
        "Take one step of an exam",
        StepSent,
        WholeExamAnswer,
        "Before the first reading: identity, indication, cautions; lying_flat starts the rest clock. After "
        "the last: measured, refused in words (422) while a planned site has neither reading nor reason. "
        "If-Match is the exam's.",
        s404=_NO_SUCH,
    )
    def post(self, request: Request, exam_id: int) -> Response:
        exam_for(self.person, exam_id)
        said = self.taken(StepSent)
        with one_act():
            exam = held(exam_for(self.person, exam_id))
            self.must_match(exam_said(exam))
            _STEPS[said.pop("step")](exam, said, self.person)
        return self.answer(exam_said(exam_for(self.person, exam_id)))


class Condition(Api):
    @changes(
        "record_condition",
        "exams",
        "Record a condition of an exam",
        ConditionSent,
        WholeExamAnswer,
        "Position, skin temperature, hours since tobacco and so on: what the numbers are worth.",
        s404=_NO_SUCH,
    )
    def post(self, request: Request, exam_id: int) -> Response:
        exam_for(self.person, exam_id)
        said = self.taken(ConditionSent)
        item = said["item"]
        try:
            value = read_preparation(said["value"], item)
        except ValidationError as refused:
            raise ValidationError({"value": refused.error_list}) from None
        with one_act():
            exam = held(exam_for(self.person, exam_id))
            self.must_match(exam_said(exam))
            services.record_preparation(
                exam=exam,
                item=item,
                value=value,
                by=self.person,
                client_id=uuid4(),
                seen_revision=listed.condition_seen(exam, item),
                reason=said.get("because", ""),
            )
        return self.answer(exam_said(exam_for(self.person, exam_id)))


class ExamReadings(Api):
    @creates(
        "record_reading",
        "readings",
        "Record a reading of an exam",
        ReadingSent,
        ReadingAnswer,
        "Findings follow at once. Where “do not inflate” stands a program records no pressure, since that is "
        "a person's decision at the sheet: record there that it was not_obtained, and why.",
        s404=_NO_SUCH,
        s409=f"{_STATE} Or: a reading stands at that attempt, or all three are taken.",
    )
    def post(self, request: Request, exam_id: int) -> Response:
        exam_for(self.person, exam_id)
        self.idempotency_key()
        said = self.taken(ReadingSent)
        value = value_said(said, said["site"])
        reading, new = self.made_once(
            lambda: self._recorded(exam_id, said, value),
            lambda number: listed.any_reading_for(self.person, number),
        )
        shown = listed.any_reading_for(self.person, reading.pk)
        return self.answer(reading_said(shown), 201 if new else 200)

    def _recorded(self, exam_id: int, said: dict[str, Any], value: Any) -> Any:
        exam = held(exam_for(self.person, exam_id))
        attempt = said.get("attempt") or listed.next_attempt(exam, said["side"], said["site"])
        if attempt > max(ATTEMPTS):
            raise Conflict(
                "no_attempt_left",
                f"That site has {max(ATTEMPTS)} readings, as many as an exam holds of one site.",
                "Correct the one that is wrong instead.",
                field="attempt",
            )
        try:
            return services.record_reading(
                exam=exam,
                place=Place(said["side"], said["site"], attempt),
                value=value,
                technique=said["technique"],
                by=self.person,
                client_id=uuid4(),
                seen_revision=0,
                typed_at=said.get("measured_at"),
                cuff_width_mm=said.get("cuff_width_mm"),
            )
        except StaleValue as stale:
            raise Conflict(
                "attempt_taken",
                f"Attempt {attempt} of that site has a reading: {stale.shown}, by {stale.by}.",
                "Send it as the next attempt, or correct that reading.",
                field="attempt",
            ) from None


class Readings(Api):
    @lists(
        "list_readings", "readings", "Readings by patient, exam, day and site", ReadingAnswer, ReadingsAsked
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(ReadingsAsked)
        part = listed.readings_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of readings read by a program", asked=asked, part=part)
        return self.answer_part(part, reading_said)


class _Correcting(Api):
    def _corrected(self, reading_id: int, value: Any, technique: str | None, because: str) -> Response:
        with one_act():
            reading = listed.any_reading_for(self.person, reading_id)
            held(reading.exam)
            reading = listed.any_reading_for(self.person, reading_id)
            self.must_match(reading_said(reading))
            try:
                later = services.correct_reading(
                    reading=reading,
                    value=value,
                    technique=technique or reading.technique,
                    reason=because,
                    by=self.person,
                )
            except StaleValue as stale:
                raise Overtaken(
                    "changed_meanwhile",
                    f"{stale.by} put {stale.shown} here since.",
                    "Read the readings of this exam again, and decide again.",
                ) from None
        return self.answer(reading_said(listed.any_reading_for(self.person, later.pk)))


class Reading(_Correcting):
    @looks("read_reading", "readings", "Read a reading, also one that was replaced", ReadingAnswer)
    def get(self, request: Request, reading_id: int) -> Response:
        reading = listed.any_reading_for(self.person, reading_id)
        self.note("reading read by a program", patient=reading.exam.patient_id, subject=reading)
        return self.answer(reading_said(reading))

    @changes(
        "correct_reading",
        "readings",
        "Correct a reading",
        ReadingCorrected,
        ReadingAnswer,
        "Answered is a new reading with a number of its own; the first stays, with who and why.",
    )
    def put(self, request: Request, reading_id: int) -> Response:
        reading = listed.any_reading_for(self.person, reading_id)
        said = self.taken(ReadingCorrected)
        value = value_said(said, reading.site)
        return self._corrected(reading_id, value, said["technique"], said["because"])


class ReadingWithdrawal(_Correcting):
    @changes(
        "withdraw_reading",
        "readings",
        "Take a reading back",
        Because,
        ReadingAnswer,
        "Nothing stands at its attempt any more; what stood there stays readable, with who and why.",
    )
    def post(self, request: Request, reading_id: int) -> Response:
        listed.any_reading_for(self.person, reading_id)
        said = self.taken(Because)
        return self._corrected(reading_id, None, None, said["because"])


class ExamFindings(Api):
    @looks("read_findings", "findings", "Every finding of an exam", FindingsAnswer)
    def get(self, request: Request, exam_id: int) -> Response:
        read = listed.findings_of(self.person, exam_id)
        self.note("findings read by a program", patient=read.exam.patient_id, subject=read.exam)
        return self.answer(findings_said(read))


class Findings(Api):
    @lists(
        "list_findings",
        "findings",
        "Findings by patient, exam, day, limb and measure",
        ListedFindingAnswer,
        FindingsAsked,
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(FindingsAsked)
        part = listed.results_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of findings read by a program", asked=asked, part=part)
        return self.answer_part(part, _listed_finding_said)


def _listed_finding_said(result: Any) -> dict[str, Any]:
    return {
        "finding": result.pk,
        "exam": result.exam_id,
        "patient": result.exam.patient_id,
        "criteria": result.criteria,
        "criteria_version": result.criteria_version,
        **finding_said(result.finding),
    }


def hand_over_said(slip: Any) -> dict[str, Any]:
    return dict(HandOverAnswer(slip).data)


class HandOvers(Api):
    @lists(
        "list_hand_overs",
        "hand-overs",
        "Critical results that a person must be told of",
        HandOverAnswer,
        HandOversAsked,
        "since and until are about raised_at. A program only reads them: whom a person told, and what was "
        "read back, is written down by that person.",
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(HandOversAsked)
        part = listed.hand_overs_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of hand-overs read by a program", asked=asked, part=part)
        return self.answer_part(part, hand_over_said)


class HandOver(Api):
    @looks("read_hand_over", "hand-overs", "Read a critical result to be told of", HandOverAnswer)
    def get(self, request: Request, hand_over_id: int) -> Response:
        slip = hand_over_for(self.person, hand_over_id)
        self.note("hand-over read by a program", patient=slip.exam.patient_id, subject=slip)
        return self.answer(hand_over_said(slip))


# ---- the steps, and what each asks for


def _identity(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.confirm_identity(exam=exam, how=said.get("how", ""), by=by)


def _indication(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.set_indication(
        exam=exam,
        indication=said.get("indication", ""),
        indication_text=said.get("indication_text", ""),
        referrer=said.get("referrer", ""),
        by=by,
    )


def _cautions(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.confirm_cautions(exam=exam, by=by)


def _lying_flat(exam: Any, said: dict[str, Any], by: Any) -> None:
    if not exam.entered_later:
        services.lie_flat(exam=exam, at=said.get("lying_flat_at"), by=by)
        return
    first = said.get("first_inflation_at")
    if first is None:
        raise ValidationError({"first_inflation_at": "Give the time of the first cuff, as on the paper."})
    services.set_typed_times(
        exam=exam, lying_flat_at=said.get("lying_flat_at"), first_inflation_at=first, by=by
    )


def _measured(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.finish_measuring(exam=exam, by=by)


def _not_attended(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.not_attended(exam=exam, because=said.get("because", ""), by=by)


def _stopped(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.stop_exam(exam=exam, because=said.get("because", ""), by=by)


def _reopen(exam: Any, said: dict[str, Any], by: Any) -> None:
    services.reopen(exam=exam, because=said.get("because", ""), by=by)


_STEPS: dict[str, Callable[[Any, dict[str, Any], Any], None]] = {
    "identity": _identity,
    "indication": _indication,
    "cautions": _cautions,
    "lying_flat": _lying_flat,
    "measured": _measured,
    "not_attended": _not_attended,
    "stopped": _stopped,
    "reopen": _reopen,
}
