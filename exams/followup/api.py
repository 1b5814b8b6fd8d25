"""Referrals for programs: listed, sent, answered step by step."""

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import changes, creates, lists, looks
from access.paging import Asked
from access.trail import one_act
from exams.followup import services
from exams.followup.course import moves_from
from exams.followup.queries.listed import held_referral, referrals_listed, steps_of
from exams.followup.queries.referrals import referral_for
from exams.followup.sent import (
    ReferralAnswer,
    ReferralsAsked,
    ReferralSent,
    ReferralStepSent,
    StepAnswer,
    WholeReferralAnswer,
)
from exams.patients.listed import standing_patient
from exams.visits.queries.exams import exam_for


def referral_said(referral: Any) -> dict[str, Any]:
    return {
        **ReferralAnswer(referral).data,
        "steps": [StepAnswer(step).data for step in steps_of(referral)],
        "may_follow": sorted({str(move.after) for move in moves_from(referral.state)}),
    }


class Referrals(Api):
    @lists(
        "list_referrals", "referrals", "Referrals by patient, state and day", ReferralAnswer, ReferralsAsked
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(ReferralsAsked)
        part = referrals_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of referrals read by a program", asked=asked, part=part)
        return self.answer_part(part, lambda referral: ReferralAnswer(referral).data)


class PatientReferrals(Api):
    @creates(
        "send_referral",
        "referrals",
        "Refer a patient",
        ReferralSent,
        WholeReferralAnswer,
        "Its letter is made in the background.",
        s404="No such patient or exam in this clinic.",
        s409="The key came with something else before. Or: the record was merged into another one.",
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = self.taken(ReferralSent)
        number = said.pop("exam", None)
        exam = exam_for(self.person, number) if number else None
        referral, new = self.made_once(
            lambda: services.send_referral(patient=patient, exam=exam, by=self.person, **said),
            lambda made: referral_for(self.person, made),
        )
        return self.answer(referral_said(referral_for(self.person, referral.pk)), 201 if new else 200)


class Referral(Api):
    @looks("read_referral", "referrals", "Read a referral and its steps", WholeReferralAnswer)
    def get(self, request: Request, referral_id: int) -> Response:
        referral = referral_for(self.person, referral_id)
        self.note("referral read by a program", patient=referral.patient_id, subject=referral)
        return self.answer(referral_said(referral))


class _Step(Api):
    def _take(self, referral_id: int) -> Response:
        referral_for(self.person, referral_id)
        said = self.taken(ReferralStepSent)
        with one_act():
            referral = held_referral(self.person, referral_id)
            self.must_match(referral_said(referral))
            services.take_step(referral=referral, seen=steps_of(referral)[-1].pk, by=self.person, **said)
        return self.answer(referral_said(referral_for(self.person, referral_id)))


class ReferringStep(_Step):
    @changes(
        "take_referring_step",
        "referrals",
        "Take a step of the side that referred",
        ReferralStepSent,
        WholeReferralAnswer,
        "Sending again, closing.",
    )
    def post(self, request: Request, referral_id: int) -> Response:
        return self._take(referral_id)


class AnsweringStep(_Step):
    @changes(
        "take_answering_step",
        "referrals",
        "Take a step of the surgeon's side",
        ReferralStepSent,
        WholeReferralAnswer,
        "Received, accepted, returned, declined, seen, treated, outcome told.",
    )
    def post(self, request: Request, referral_id: int) -> Response:
        return self._take(referral_id)
