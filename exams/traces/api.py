"""Where devices at the bedside send their recordings to, whole or in pieces."""

from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import KEY_PARAMETER, errors, lists, looks
from access.paging import Asked
from access.rest import PlainJson
from access.trail import one_act
from exams.traces.files import MOST_BYTES
from exams.traces.queries.listed import trace_read, traces_listed
from exams.traces.queries.sending import exam_to_send_to, pieces_missing, pieces_there, sent_in_pieces
from exams.traces.sent import (
    EndSent,
    FileSent,
    MarkAnswer,
    PieceSent,
    ReadAnswer,
    ReceivedAnswer,
    Recording,
    SuggestionAnswer,
    TraceAnswer,
    TraceBegun,
    TracesAsked,
    TraceSent,
)
from exams.traces.services import growing
from exams.traces.services.seeing import keep_seen
from exams.traces.services.sent_files import receive_sent_file

_TAGS = ["traces"]
_NOT_NOW = "The exam is not being measured, its attempt is taken, or the key came with something else before."


class Traces(Api):
    # A little more than the largest file: what stands around it in a form.
    most_bytes: ClassVar[int] = MOST_BYTES + 64 * 1024
    parser_classes = (PlainJson, MultiPartParser)

    @lists(
        "list_traces",
        "traces",
        "Recordings by patient, exam, day and site",
        ReceivedAnswer,
        TracesAsked,
        "Without what was read from them: see one of them for that.",
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(TracesAsked)
        part = traces_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of traces read by a program", asked=asked, part=part)
        return self.answer_part(part, lambda trace: ReceivedAnswer(trace).data)

    @extend_schema(
        operation_id="send_trace",
        tags=_TAGS,
        summary="Send a whole recording",
        description="Taken, it is read in the background; the suggestion then waits at the exam.",
        parameters=[KEY_PARAMETER],
        request={"application/json": TraceSent, "multipart/form-data": FileSent},
        responses={
            201: OpenApiResponse(TraceAnswer, description="Taken."),
            200: OpenApiResponse(TraceAnswer, description="It was taken before, under this key."),
            **errors(
                s404="No such exam in this clinic.",
                s409=_NOT_NOW,
                s413="Larger or longer than is taken.",
                s415="Neither JSON nor a form with a file.",
                s422="A value cannot be taken; field says which.",
            ),
        },
    )
    def post(self, request: Request) -> Response:
        key = self.idempotency_key()
        if (request.content_type or "").startswith("multipart/"):
            file = FileSent(data=request.data)
            file.is_valid(raise_exception=True)
            trace, new = receive_sent_file(
                exam=exam_to_send_to(self.person, file.exam_number),
                said=file.said,
                name=file.validated_data["file"].name,
                content=file.validated_data["file"].read(),
                key=key,
                by=self.person,
            )
        else:
            sent = TraceSent(data=request.data)
            sent.is_valid(raise_exception=True)
            trace, new = growing.receive_whole(
                exam=exam_to_send_to(self.person, sent.exam_number),
                said=sent.said,
                samples=sent.samples,
                key=key,
                by=self.person,
            )
        return _answer(trace, 201 if new else 200)


class OneTrace(Api):
    @looks(
        "read_trace",
        "traces",
        "Read a recording and what was read from it",
        ReadAnswer,
        "The person the program acts for counts as having seen it: no later reading of theirs is blind.",
    )
    def get(self, request: Request, trace_id: int) -> Response:
        read = trace_read(self.person, trace_id)
        with one_act():
            patient = read.trace.exam.patient_id
            self.note("trace read by a program", patient=patient, subject=read.trace)
            keep_seen(traces=[read.trace.pk], by=self.person.acts_for or self.person)
        suggestion = SuggestionAnswer(read.suggestion).data if read.suggestion else None
        marks = [MarkAnswer(mark).data for mark in read.marks]
        return self.answer({**ReceivedAnswer(read.trace).data, "suggestion": suggestion, "marks": marks})


class Growing(Api):
    @extend_schema(
        operation_id="begin_trace",
        tags=_TAGS,
        summary="Begin a recording that is sent in pieces",
        description="Shown as it grows to whoever has opened the exam.",
        parameters=[KEY_PARAMETER],
        request=TraceBegun,
        responses={
            201: OpenApiResponse(TraceAnswer, description="Begun: send its pieces."),
            200: OpenApiResponse(TraceAnswer, description="It was begun before, under this key."),
            **errors(
                s404="No such exam in this clinic.",
                s409=_NOT_NOW,
                s413="Larger than is taken.",
                s415="Not JSON.",
                s422="A value cannot be taken; field says which.",
            ),
        },
    )
    def post(self, request: Request) -> Response:
        key = self.idempotency_key()
        sent = TraceBegun(data=request.data)
        sent.is_valid(raise_exception=True)
        exam = exam_to_send_to(self.person, sent.exam_number)
        trace, new = growing.begin_trace(exam=exam, said=sent.said, key=key, by=self.person)
        return _answer(trace, 201 if new else 200)


class Piece(Api):
    most_bytes: ClassVar[int] = 2 * 1024 * 1024

    @extend_schema(
        operation_id="send_piece",
        tags=_TAGS,
        summary="Send one piece of a recording",
        description="Pieces are numbered from 1 without gaps and may arrive in any order. About one a second "
        "makes the recording grow smoothly on the screen.",
        request=PieceSent,
        responses={
            201: OpenApiResponse(TraceAnswer, description="Taken."),
            200: OpenApiResponse(TraceAnswer, description="The same piece was taken before."),
            **errors(
                s404="No such recording of this device.",
                s409="Another piece stands under this number, or the recording is finished.",
                s413="Larger or longer than is taken.",
                s415="Not JSON.",
                s422="A value cannot be taken; field says which.",
            ),
        },
    )
    def put(self, request: Request, trace_id: int, number: int) -> Response:
        trace = sent_in_pieces(self.person, trace_id)
        sent = PieceSent(data=request.data)
        sent.is_valid(raise_exception=True)
        new = growing.add_piece(trace=trace, number=number, samples=sent.samples, by=self.person)
        return _answer(trace, 201 if new else 200)


class Finish(Api):
    @extend_schema(
        operation_id="finish_trace",
        tags=_TAGS,
        summary="Say that every piece was sent",
        description="The recording is then read in the background; the suggestion waits at the exam.",
        request=EndSent,
        responses={
            200: OpenApiResponse(TraceAnswer, description="Finished, now or before."),
            **errors(
                s404="No such recording of this device.",
                s409="Pieces are missing, or it was finished with another number of them.",
                s413="Larger than is taken.",
                s415="Not JSON.",
                s422="A value cannot be taken; field says which.",
            ),
        },
    )
    def post(self, request: Request, trace_id: int) -> Response:
        trace = sent_in_pieces(self.person, trace_id)
        sent = EndSent(data=request.data)
        sent.is_valid(raise_exception=True)
        growing.finish_trace(trace=trace, pieces=sent.validated_data["pieces"], by=self.person)
        return _answer(sent_in_pieces(self.person, trace_id), 200)


def _answer(trace: Any, status: int) -> Response:
    there = pieces_there(trace)
    said = Recording(
        trace=trace.pk,
        exam=trace.exam_id,
        attempt=trace.attempt,
        state=trace.state,
        pieces_there=len(there),
        pieces_missing=pieces_missing(there),
    )
    return Response(TraceAnswer(said).data, status=status)
