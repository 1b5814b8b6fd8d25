"""Wounds, their assessments and photographs for programs."""

import hashlib
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import changes, creates, errors, lists, looks
from access.paging import Asked
from access.refusals import Conflict
from access.trail import one_act
from exams.patients.listed import standing_patient
from exams.patients.sent import Because
from exams.wounds import queries, services
from exams.wounds.forms import AssessmentForm, CorrectAssessmentForm
from exams.wounds.pictures import MOST_BYTES
from exams.wounds.queries.listed import (
    assessments_listed,
    held_entry,
    held_photograph,
    photographs_listed,
    wounds_listed,
)
from exams.wounds.sent import (
    LISTS_OF_CODES,
    AssessmentAnswer,
    AssessmentCorrected,
    AssessmentsAsked,
    AssessmentSent,
    PhotographAnswer,
    PhotographsAsked,
    PhotographSent,
    WoundAnswer,
    WoundClosed,
    WoundCorrected,
    WoundsAsked,
    WoundSent,
)


def wound_said(entry: Any) -> dict[str, Any]:
    return dict(WoundAnswer(entry).data)


def assessment_said(found: Any) -> dict[str, Any]:
    return dict(AssessmentAnswer(found).data)


class Wounds(Api):
    @lists("list_wounds", "wounds", "Wounds by patient, foot, state and day", WoundAnswer, WoundsAsked)
    def get(self, request: Request) -> Response:
        asked = self.asked(WoundsAsked)
        part = wounds_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of wounds read by a program", asked=asked, part=part)
        return self.answer_part(part, wound_said)


class PatientWounds(Api):
    @creates(
        "record_wound",
        "wounds",
        "Record a wound",
        WoundSent,
        WoundAnswer,
        "The limb has an open wound from then on, and the latest exam is interpreted with it.",
        s404="No such patient in this clinic, or no such earlier wound.",
        s409="The key came with something else before. Or: the record was merged into another one.",
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = self.taken(WoundSent)
        again = said.pop("recurrence_of", None)
        before = queries.entry_for(self.person, patient_id, again).wound if again else None
        wound, new = self.made_once(
            lambda: services.record_wound(patient=patient, recurrence_of=before, by=self.person, **said),
            lambda number: queries.entry_for(self.person, patient_id, number).wound,
        )
        entry = queries.entry_for(self.person, patient_id, wound.pk)
        return self.answer(wound_said(entry), 201 if new else 200)


class Wound(Api):
    @looks("read_wound", "wounds", "Read a wound", WoundAnswer)
    def get(self, request: Request, patient_id: int, wound_id: int) -> Response:
        entry = queries.entry_for(self.person, patient_id, wound_id)
        self.note("wound read by a program", patient=patient_id, subject=entry.wound)
        return self.answer(wound_said(entry))

    @changes("correct_wound", "wounds", "Correct what is said of a wound", WoundCorrected, WoundAnswer)
    def patch(self, request: Request, patient_id: int, wound_id: int) -> Response:
        queries.entry_for(self.person, patient_id, wound_id)
        said = self.taken(WoundCorrected)
        because = said.pop("because")
        if "recurrence_of" in said:
            again = said.pop("recurrence_of")
            said["recurrence_of_id"] = (
                queries.entry_for(self.person, patient_id, again).wound_id if again else None
            )
        with one_act():
            entry = held_entry(self.person, patient_id, wound_id)
            self.must_match(wound_said(entry))
            _refuse_half_closed(said, entry)
            services.correct_wound(wound=entry.wound, reason=because, by=self.person, **said)
        return self.answer(wound_said(queries.entry_for(self.person, patient_id, wound_id)))


def _refuse_half_closed(said: dict[str, Any], entry: Any) -> None:
    closed = said.get("closed_on", entry.closed_on) is not None
    if (said.get("status", entry.status) == "open") == closed:
        raise ValidationError({"closed_on": "An open wound has no such day; one that is over has one."})


class WoundEnd(Api):
    @changes("close_wound", "wounds", "Say that a wound is over", WoundClosed, WoundAnswer)
    def post(self, request: Request, patient_id: int, wound_id: int) -> Response:
        queries.entry_for(self.person, patient_id, wound_id)
        said = self.taken(WoundClosed)
        with one_act():
            entry = held_entry(self.person, patient_id, wound_id)
            self.must_match(wound_said(entry))
            services.close_wound(wound=entry.wound, by=self.person, **said)
        return self.answer(wound_said(queries.entry_for(self.person, patient_id, wound_id)))


class Assessments(Api):
    @lists(
        "list_assessments",
        "wounds",
        "What was found of a wound, day by day",
        AssessmentAnswer,
        AssessmentsAsked,
    )
    def get(self, request: Request, patient_id: int, wound_id: int) -> Response:
        entry = queries.entry_for(self.person, patient_id, wound_id)
        asked = self.asked(AssessmentsAsked)
        part = assessments_listed(self.person, entry, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note(
            "wound assessments read by a program",
            patient=patient_id,
            subject=entry.wound,
            asked=asked,
            part=part,
        )
        return self.answer_part(part, assessment_said)

    @creates("assess_wound", "wounds", "Record how a wound was found", AssessmentSent, AssessmentAnswer)
    def post(self, request: Request, patient_id: int, wound_id: int) -> Response:
        entry = queries.entry_for(self.person, patient_id, wound_id)
        self.idempotency_key()
        said = _for_the_form(self.taken(AssessmentSent))
        found, new = self.made_once(
            lambda: services.assess_wound(wound=entry.wound, by=self.person, **_found(AssessmentForm(said))),
            lambda number: queries.assessment_for(self.person, patient_id, wound_id, number),
        )
        return self.answer(assessment_said(found), 201 if new else 200)


class Assessment(Api):
    @looks("read_assessment", "wounds", "Read an assessment that stands", AssessmentAnswer)
    def get(self, request: Request, patient_id: int, wound_id: int, assessment_id: int) -> Response:
        found = queries.assessment_for(self.person, patient_id, wound_id, assessment_id)
        self.note("wound assessments read by a program", patient=patient_id, subject=found)
        return self.answer(assessment_said(found))

    @changes(
        "correct_assessment",
        "wounds",
        "Correct an assessment",
        AssessmentCorrected,
        AssessmentAnswer,
        "Answered is a new assessment with a number of its own, graded anew.",
    )
    def patch(self, request: Request, patient_id: int, wound_id: int, assessment_id: int) -> Response:
        queries.assessment_for(self.person, patient_id, wound_id, assessment_id)
        said = _for_the_form(self.taken(AssessmentCorrected))
        because = said.pop("because")
        with one_act():
            held_entry(self.person, patient_id, wound_id)
            found = queries.assessment_for(self.person, patient_id, wound_id, assessment_id)
            self.must_match(assessment_said(found))
            stands = CorrectAssessmentForm.of(found).initial
            form = CorrectAssessmentForm({**stands, **said, "reason": because})
            found = services.correct_assessment(assessment=found, by=self.person, **_found(form))
        return self.answer(assessment_said(found))


class AssessmentWithdrawal(Api):
    @changes(
        "withdraw_assessment",
        "wounds",
        "Say that an assessment was entered in error",
        Because,
        AssessmentAnswer,
        "It stays in the record, struck through, and is listed no more.",
    )
    def post(self, request: Request, patient_id: int, wound_id: int, assessment_id: int) -> Response:
        queries.assessment_for(self.person, patient_id, wound_id, assessment_id)
        said = self.taken(Because)
        with one_act():
            held_entry(self.person, patient_id, wound_id)
            found = queries.assessment_for(self.person, patient_id, wound_id, assessment_id)
            self.must_match(assessment_said(found))
            found = services.withdraw_assessment(assessment=found, reason=said["because"], by=self.person)
        return self.answer(assessment_said(found))


def photograph_said(found: Any) -> dict[str, Any]:
    return dict(PhotographAnswer(found).data)


class Photographs(Api):
    most_bytes: ClassVar[int] = MOST_BYTES + 64 * 1024
    parser_classes = (MultiPartParser,)

    @lists("list_photographs", "wounds", "Photographs of a wound", PhotographAnswer, PhotographsAsked)
    def get(self, request: Request, patient_id: int, wound_id: int) -> Response:
        entry = queries.entry_for(self.person, patient_id, wound_id)
        asked = self.asked(PhotographsAsked)
        part = photographs_listed(self.person, entry, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note(
            "wound photographs read by a program",
            patient=patient_id,
            subject=entry.wound,
            asked=asked,
            part=part,
        )
        return self.answer_part(part, photograph_said)

    @creates(
        "send_photograph",
        "wounds",
        "Send a photograph of a wound",
        PhotographSent,
        PhotographAnswer,
        f"A form (multipart/form-data) with a file of at most {MOST_BYTES // 2**20} MB.",
        s415="Not a form with a file.",
    )
    def post(self, request: Request, patient_id: int, wound_id: int) -> Response:
        entry = queries.entry_for(self.person, patient_id, wound_id)
        self.idempotency_key()
        said = self.taken(PhotographSent)
        content = said["photograph"].read()
        found, new = self.made_once(
            lambda: services.keep_photograph(
                wound=entry.wound, content=content, taken_on=said["taken_on"], by=self.person
            ),
            lambda number: queries.photograph_for(self.person, patient_id, number),
            sent={"taken_on": str(said["taken_on"]), "sum": hashlib.sha256(content).hexdigest()},
        )
        return self.answer(photograph_said(found), 201 if new else 200)


class Photograph(Api):
    @looks("read_photograph", "wounds", "Read what is known of a photograph", PhotographAnswer)
    def get(self, request: Request, patient_id: int, photograph_id: int) -> Response:
        found = queries.photograph_for(self.person, patient_id, photograph_id)
        self.note("wound photographs read by a program", patient=patient_id, subject=found)
        return self.answer(photograph_said(found))


class Picture(Api):
    @extend_schema(
        operation_id="download_photograph",
        tags=["wounds"],
        summary="Download a photograph as JPEG",
        description="The picture as it was drawn anew, checked against its checksum.",
        responses={
            (200, "image/jpeg"): OpenApiResponse(OpenApiTypes.BINARY, description="The picture."),
            **errors(s404="No such photograph in this clinic.", s409="It was lost or damaged."),
        },
    )
    def get(self, request: Request, patient_id: int, photograph_id: int) -> HttpResponse:
        found = queries.photograph_for(self.person, patient_id, photograph_id)
        self.note("wound photograph downloaded by a program", patient=patient_id, subject=found)
        try:
            content = queries.picture_of(found)
        except ValidationError as changed:
            raise Conflict(
                "no_file", " ".join(changed.messages), "Ask your system administrator to look for it."
            ) from None
        return HttpResponse(content, content_type="image/jpeg")


class PhotographWithdrawal(Api):
    @changes(
        "withdraw_photograph",
        "wounds",
        "Say that a photograph is of something else",
        Because,
        PhotographAnswer,
        "It stays in the record and is shown no more.",
    )
    def post(self, request: Request, patient_id: int, photograph_id: int) -> Response:
        queries.photograph_for(self.person, patient_id, photograph_id)
        said = self.taken(Because)
        with one_act():
            found = held_photograph(self.person, patient_id, photograph_id)
            self.must_match(photograph_said(found))
            found = services.withdraw_photograph(photograph=found, reason=said["because"], by=self.person)
        return self.answer(photograph_said(found))


def _for_the_form(said: dict[str, Any]) -> dict[str, Any]:
    """As the page would send it: the form then refuses for both what cannot be together."""
    return {name: value.split() if name in LISTS_OF_CODES else value for name, value in said.items()}


def _found(form: AssessmentForm) -> dict[str, Any]:
    if not form.is_valid():
        raise ValidationError(form.errors.as_data())
    return form.values()
