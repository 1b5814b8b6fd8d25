"""Further tests (exercise, segmental pressures, waveforms, pulse volume, oxygen) for programs."""

from typing import Any
from uuid import uuid4

from django.core.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import changes, looks
from access.permissions import NotHere
from access.refusals import Overtaken
from access.trail import one_act
from exams.visits.errors import StaleValue
from exams.visits.further.catalogue import further_test
from exams.visits.further.queries import entered_of, seen_of
from exams.visits.further.sent import FurtherSent, FurtherTestAnswer, FurtherTestsAnswer, further_said
from exams.visits.further.services import FurtherTyped, save_further
from exams.visits.queries.exams import exam_for
from exams.visits.services.acts import held

_NO_SUCH = "No such exam in this clinic, or no such test."


class FurtherTests(Api):
    @looks("read_further_tests", "further tests", "Which further tests an exam has", FurtherTestsAnswer)
    def get(self, request: Request, exam_id: int) -> Response:
        exam = exam_for(self.person, exam_id)
        self.note("further tests read by a program", patient=exam.patient_id, subject=exam)
        return self.answer({"exam": exam.pk, "patient": exam.patient_id, "entered": sorted(entered_of(exam))})


class OneFurtherTest(Api):
    @looks(
        "read_further_test",
        "further tests",
        "Read one further test, and what it asks for",
        FurtherTestAnswer,
        "Also of one of which nothing was entered yet: its fields say what can be sent. What follows from "
        "the values is among the findings of the exam.",
        s404=_NO_SUCH,
    )
    def get(self, request: Request, exam_id: int, test: str) -> Response:
        exam, kind = exam_for(self.person, exam_id), _known(test)
        self.note("further tests read by a program", patient=exam.patient_id, subject=exam)
        return self.answer(further_said(exam, kind, entered_of(exam)))

    @changes(
        "record_further_test",
        "further tests",
        "Record values of a further test",
        FurtherSent,
        FurtherTestAnswer,
        "All of them, or none. Where “do not inflate” stands no pressure is taken; a category is entered by "
        "a clinician, never by a program.",
        s404=_NO_SUCH,
    )
    def patch(self, request: Request, exam_id: int, test: str) -> Response:
        exam_for(self.person, exam_id)
        kind = _known(test)
        said = self.taken(FurtherSent)
        with one_act():
            exam = held(exam_for(self.person, exam_id))
            self.must_match(further_said(exam, kind, entered_of(exam)))
            seen = seen_of(exam, kind)
            for name, typed in said["values"].items():
                entry = FurtherTyped(name, typed, uuid4(), seen.get(name, 0), reason=said.get("because", ""))
                self._save(exam, kind, entry)
        exam = exam_for(self.person, exam_id)
        return self.answer(further_said(exam, kind, entered_of(exam)))

    def _save(self, exam: Any, test: Any, entry: FurtherTyped) -> None:
        try:
            save_further(exam=exam, test=test, entry=entry, by=self.person)
        except StaleValue as stale:
            raise Overtaken(
                "changed_meanwhile",
                f"{stale.by} put {stale.shown} here since.",
                "Read the test again, and decide again.",
                field=entry.field,
            ) from None
        except ValidationError as refused:
            raise ValidationError({entry.field: refused.error_list}) from None


def _known(test: str) -> Any:
    found = further_test(test)
    if found is None:
        raise NotHere("no such test")
    return found
