"""Referrals, recalls and promises for programs: listed, begun, taken step by step."""

from collections.abc import Callable
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api
from access.described import changes, creates, lists, looks
from access.paging import Asked
from access.trail import one_act
from exams.followup import services
from exams.followup.course import moves_from
from exams.followup.queries.listed import (
    contacts_of,
    held_promise,
    held_recall,
    held_referral,
    promises_listed,
    recall_after,
    recalls_listed,
    referrals_listed,
    steps_of,
)
from exams.followup.queries.promises import promise_for
from exams.followup.queries.recalls import recall_for
from exams.followup.queries.referrals import referral_for
from exams.followup.sent import (
    ReferralAnswer,
    ReferralsAsked,
    ReferralSent,
    ReferralStepSent,
    StepAnswer,
    WholeReferralAnswer,
)
from exams.followup.sent_recalls import (
    ContactAnswer,
    ContactSent,
    PromiseAnswer,
    PromiseCalledOff,
    PromiseKept,
    PromisesAsked,
    PromiseSent,
    RecallAnswer,
    RecallEnded,
    RecallsAsked,
    RecallSent,
    SeenSent,
    WholeRecallAnswer,
)
from exams.patients.listed import standing_patient
from exams.visits.queries.exams import exam_for

_KEY_OR_MERGED = "The key came with something else before. Or: the record was merged into another one."


def referral_said(referral: Any) -> dict[str, Any]:
    return {
        **ReferralAnswer(referral).data,
        "steps": [StepAnswer(step).data for step in steps_of(referral)],
        "may_follow": sorted({str(move.after) for move in moves_from(referral.state)}),
    }


def recall_said(recall: Any) -> dict[str, Any]:
    return {
        **RecallAnswer(recall).data,
        "contacts": [ContactAnswer(one).data for one in contacts_of(recall)],
        "followed_by": recall_after(recall),
    }


def promise_said(promise: Any) -> dict[str, Any]:
    return dict(PromiseAnswer(promise).data)


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
        s409=_KEY_OR_MERGED,
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


# ---- recalls


class Recalls(Api):
    @lists(
        "list_recalls",
        "recalls",
        "Recalls by patient and day due",
        RecallAnswer,
        RecallsAsked,
        "Also of people whose death is recorded: theirs stand still. since and until are about due_by.",
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(RecallsAsked)
        part = recalls_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of recalls read by a program", asked=asked, part=part)
        return self.answer_part(part, lambda recall: RecallAnswer(recall).data)


class PatientRecalls(Api):
    @creates(
        "plan_recall",
        "recalls",
        "Plan a recall by the risk of the feet",
        RecallSent,
        WholeRecallAnswer,
        "One stands at a time: where one does already, say that the person was seen, or end it. A recall "
        "because of an event (an ulcer, a procedure) is raised by the limb fact itself.",
        s404="No such patient in this clinic.",
        s409=_KEY_OR_MERGED,
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = {"because": "", **self.taken(RecallSent)}
        recall, new = self.made_once(
            lambda: services.plan_recall(patient=patient, by=self.person, **said),
            lambda made: recall_for(self.person, made),
        )
        return self.answer(recall_said(recall_for(self.person, recall.pk)), 201 if new else 200)


class Recall(Api):
    @looks("read_recall", "recalls", "Read a recall and every try", WholeRecallAnswer)
    def get(self, request: Request, recall_id: int) -> Response:
        recall = recall_for(self.person, recall_id)
        self.note("recall read by a program", patient=recall.patient_id, subject=recall)
        return self.answer(recall_said(recall))


class _RecallStep(Api):
    def _take(self, recall_id: int, sent: type, step: Callable[..., Any]) -> Response:
        recall_for(self.person, recall_id)
        said = self.taken(sent)
        with one_act():
            recall = held_recall(self.person, recall_id)
            self.must_match(recall_said(recall))
            step(recall=recall, by=self.person, **said)
        return self.answer(recall_said(recall_for(self.person, recall_id)))


class RecallContact(_RecallStep):
    @changes("record_contact", "recalls", "Note a try to reach the person", ContactSent, WholeRecallAnswer)
    def post(self, request: Request, recall_id: int) -> Response:
        return self._take(recall_id, ContactSent, services.record_contact)


class RecallSeen(_RecallStep):
    @changes(
        "mark_seen",
        "recalls",
        "Say that the person was seen",
        SeenSent,
        WholeRecallAnswer,
        "This recall ends; with a category the next one begins, whose number is answered in followed_by.",
    )
    def post(self, request: Request, recall_id: int) -> Response:
        return self._take(recall_id, SeenSent, services.mark_seen)


class RecallEnd(_RecallStep):
    @changes("end_recall", "recalls", "End a recall without a visit", RecallEnded, WholeRecallAnswer)
    def post(self, request: Request, recall_id: int) -> Response:
        return self._take(recall_id, RecallEnded, services.end_recall)


# ---- promises


class Promises(Api):
    @lists(
        "list_promises",
        "promises",
        "Promises by patient and day",
        PromiseAnswer,
        PromisesAsked,
        "since and until are about due_on. One that stands after its day is broken.",
    )
    def get(self, request: Request) -> Response:
        asked = self.asked(PromisesAsked)
        part = promises_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of promises read by a program", asked=asked, part=part)
        return self.answer_part(part, promise_said)


class PatientPromises(Api):
    @creates(
        "make_promise",
        "promises",
        "Note what was promised to a person",
        PromiseSent,
        PromiseAnswer,
        s404="No such patient or exam in this clinic.",
        s409=_KEY_OR_MERGED,
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = self.taken(PromiseSent)
        number = said.pop("exam", None)
        exam = exam_for(self.person, number) if number else None
        promise, new = self.made_once(
            lambda: services.make_promise(patient=patient, exam=exam, by=self.person, **said),
            lambda made: promise_for(self.person, made),
        )
        return self.answer(promise_said(promise_for(self.person, promise.pk)), 201 if new else 200)


class Promise(Api):
    @looks("read_promise", "promises", "Read a promise", PromiseAnswer)
    def get(self, request: Request, promise_id: int) -> Response:
        promise = promise_for(self.person, promise_id)
        self.note("promise read by a program", patient=promise.patient_id, subject=promise)
        return self.answer(promise_said(promise))


class _PromiseStep(Api):
    def _take(self, promise_id: int, sent: type, step: Callable[..., Any]) -> Response:
        promise_for(self.person, promise_id)
        said = self.taken(sent)
        with one_act():
            promise = held_promise(self.person, promise_id)
            self.must_match(promise_said(promise))
            step(promise=promise, by=self.person, **said)
        return self.answer(promise_said(promise_for(self.person, promise_id)))


class PromiseKeeping(_PromiseStep):
    @changes("keep_promise", "promises", "Say that a promise was kept", PromiseKept, PromiseAnswer)
    def post(self, request: Request, promise_id: int) -> Response:
        return self._take(promise_id, PromiseKept, services.keep_promise)


class PromiseCallingOff(_PromiseStep):
    @changes("call_off_promise", "promises", "Call a promise off", PromiseCalledOff, PromiseAnswer)
    def post(self, request: Request, promise_id: int) -> Response:
        return self._take(promise_id, PromiseCalledOff, services.call_off_promise)
