"""Patients, their identifiers and cautions, and the facts of their limbs for programs."""

from typing import Any

from django.core.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from access.api import Api, at_fields
from access.described import changes, creates, lists, looks
from access.paging import Asked
from access.trail import one_act
from exams.patients import queries, services
from exams.patients.listed import (
    cautions_listed,
    facts_listed,
    held_fact,
    held_identifier,
    identifiers_listed,
    patients_listed,
    standing_patient,
)
from exams.patients.sent import (
    Because,
    CautionAnswer,
    CautionsAsked,
    CautionSent,
    FactAnswer,
    FactCorrected,
    FactEnded,
    FactsAsked,
    FactSent,
    IdentifiersAsked,
    IdentifierSent,
    NewPatientSent,
    PatientAnswer,
    PatientChanged,
    PatientsAsked,
    WholeIdentifierAnswer,
)

_MERGED = "The record was merged into another one, which the words name."
_KEY_OR_MERGED = f"The key came with something else before. Or: {_MERGED[0].lower()}{_MERGED[1:]}"


def patient_said(patient: Any) -> dict[str, Any]:
    return dict(PatientAnswer(patient).data)


def fact_said(fact: Any) -> dict[str, Any]:
    return dict(FactAnswer(fact).data)


def identifier_said(identifier: Any) -> dict[str, Any]:
    return dict(WholeIdentifierAnswer(identifier).data)


def caution_said(caution: Any) -> dict[str, Any]:
    return dict(CautionAnswer(caution).data)


class Patients(Api):
    @lists("list_patients", "patients", "Find patients", PatientAnswer, PatientsAsked)
    def get(self, request: Request) -> Response:
        asked = self.asked(PatientsAsked)
        part = patients_listed(self.person, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("list of patients read by a program", asked=asked, part=part)
        return self.answer_part(part, patient_said)

    @creates(
        "register_patient",
        "patients",
        "Register a patient",
        NewPatientSent,
        PatientAnswer,
        "Refused (422 at duplicate_reason) where a record looks like the same person: find that record, or "
        "say why this is another.",
    )
    def post(self, request: Request) -> Response:
        self.idempotency_key()
        said = self.taken(NewPatientSent)
        patient, new = self.made_once(
            lambda: services.register_patient(by=self.person, **said),
            lambda number: standing_patient(self.person, number),
        )
        return self.answer(patient_said(queries.any_record_for(self.person, patient.pk)), 201 if new else 200)


class Patient(Api):
    @looks("read_patient", "patients", "Read a patient", PatientAnswer, s409=_MERGED)
    def get(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.note("patient read by a program", patient=patient)
        return self.answer(patient_said(patient))

    @changes("change_patient", "patients", "Change a patient", PatientChanged, PatientAnswer, s409=_MERGED)
    def patch(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        said = self.taken(PatientChanged)
        with one_act():
            self.must_match(patient_said(patient))
            services.change_patient(patient=patient, revision=patient.revision, by=self.person, **said)
        return self.answer(patient_said(standing_patient(self.person, patient_id)))


class Identifiers(Api):
    @lists(
        "list_identifiers",
        "patients",
        "The identifiers of a patient, also those withdrawn",
        WholeIdentifierAnswer,
        IdentifiersAsked,
        s409=_MERGED,
    )
    def get(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        asked = self.asked(IdentifiersAsked)
        part = identifiers_listed(self.person, patient, Asked(**asked))
        self.note("identifiers read by a program", patient=patient, asked=asked, part=part)
        return self.answer_part(part, identifier_said)

    @creates(
        "add_identifier",
        "patients",
        "Add an identifier of a patient",
        IdentifierSent,
        WholeIdentifierAnswer,
        "Refused (422 at value) where a record of this clinic has it already.",
        s409=_KEY_OR_MERGED,
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = self.taken(IdentifierSent)
        with at_fields(identifiers="value"):
            identifier, new = self.made_once(
                lambda: services.add_identifier(patient=patient, by=self.person, **said),
                lambda number: queries.identifier_for(self.person, patient_id, number),
            )
        return self.answer(identifier_said(identifier), 201 if new else 200)


class Identifier(Api):
    @looks("read_identifier", "patients", "Read an identifier, also one withdrawn", WholeIdentifierAnswer)
    def get(self, request: Request, patient_id: int, identifier_id: int) -> Response:
        identifier = queries.identifier_for(self.person, patient_id, identifier_id)
        self.note("identifiers read by a program", patient=patient_id, subject=identifier)
        return self.answer(identifier_said(identifier))


class IdentifierWithdrawal(Api):
    @changes(
        "withdraw_identifier",
        "patients",
        "Take an identifier out of use",
        Because,
        WholeIdentifierAnswer,
        "It was mistyped, or another person's. It stays readable, with why.",
    )
    def post(self, request: Request, patient_id: int, identifier_id: int) -> Response:
        queries.identifier_for(self.person, patient_id, identifier_id)
        said = self.taken(Because)
        with one_act():
            identifier = held_identifier(self.person, patient_id, identifier_id)
            self.must_match(identifier_said(identifier))
            identifier = services.withdraw_identifier(
                identifier=identifier, reason=said["because"], by=self.person
            )
        return self.answer(identifier_said(identifier))


class Cautions(Api):
    @lists(
        "list_cautions",
        "cautions",
        "Reasons not to inflate a cuff, or to take care",
        CautionAnswer,
        CautionsAsked,
        s409=_MERGED,
    )
    def get(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        asked = self.asked(CautionsAsked)
        part = cautions_listed(self.person, patient, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("cautions read by a program", patient=patient, asked=asked, part=part)
        return self.answer_part(part, caution_said)

    @creates(
        "add_caution",
        "cautions",
        "Add a caution",
        CautionSent,
        CautionAnswer,
        "A program may add one, never end one: that a cuff may lie there again is a person's decision.",
        s409=_KEY_OR_MERGED,
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = {"side": "", **self.taken(CautionSent)}
        with at_fields(place="region"):
            caution, new = self.made_once(
                lambda: services.add_caution(patient=patient, by=self.person, **said),
                lambda number: queries.caution_for(self.person, patient_id, number),
            )
        return self.answer(caution_said(caution), 201 if new else 200)


class Caution(Api):
    @looks("read_caution", "cautions", "Read a caution, also one that was ended", CautionAnswer)
    def get(self, request: Request, patient_id: int, caution_id: int) -> Response:
        caution = queries.caution_for(self.person, patient_id, caution_id)
        self.note("cautions read by a program", patient=patient_id, subject=caution)
        return self.answer(caution_said(caution))


class Facts(Api):
    @lists(
        "list_limb_facts",
        "limb facts",
        "What stands of a patient's limbs",
        FactAnswer,
        FactsAsked,
        s409=_MERGED,
    )
    def get(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        asked = self.asked(FactsAsked)
        part = facts_listed(self.person, patient, Asked(asked.pop("after"), asked.pop("limit")), **asked)
        self.note("facts of limbs read by a program", patient=patient, asked=asked, part=part)
        return self.answer_part(part, fact_said)

    @creates(
        "record_limb_fact",
        "limb facts",
        "Record a fact of a limb",
        FactSent,
        FactAnswer,
        "The latest exam is interpreted again with it.",
        s409=_KEY_OR_MERGED,
    )
    def post(self, request: Request, patient_id: int) -> Response:
        patient = standing_patient(self.person, patient_id)
        self.idempotency_key()
        said = {"side": "", **self.taken(FactSent)}
        fact, new = self.made_once(
            lambda: services.record_limb_fact(patient=patient, by=self.person, **said),
            lambda number: queries.limb_fact_for(self.person, patient_id, number),
        )
        return self.answer(fact_said(fact), 201 if new else 200)


class Fact(Api):
    @looks("read_limb_fact", "limb facts", "Read a fact that stands", FactAnswer)
    def get(self, request: Request, patient_id: int, fact_id: int) -> Response:
        fact = queries.limb_fact_for(self.person, patient_id, fact_id)
        self.note("facts of limbs read by a program", patient=patient_id, subject=fact)
        return self.answer(fact_said(fact))

    @changes(
        "correct_limb_fact",
        "limb facts",
        "Correct a fact",
        FactCorrected,
        FactAnswer,
        "Answered is a new fact with a number of its own, which names the one it replaces.",
    )
    def patch(self, request: Request, patient_id: int, fact_id: int) -> Response:
        fact = queries.limb_fact_for(self.person, patient_id, fact_id)
        said = self.taken(FactCorrected)
        because = said.pop("because")
        with one_act():
            fact = held_fact(self.person, patient_id, fact_id)
            self.must_match(fact_said(fact))
            if fact.ended_on is None and said.get("ended_on") is not None:
                raise ValidationError({"ended_on": "It has no end yet. Say its end at the address for that."})
            fact = services.correct_limb_fact(fact=fact, reason=because, by=self.person, **said)
        return self.answer(fact_said(fact))


class FactEnd(Api):
    @changes("end_limb_fact", "limb facts", "Say that a fact no longer holds", FactEnded, FactAnswer)
    def post(self, request: Request, patient_id: int, fact_id: int) -> Response:
        queries.limb_fact_for(self.person, patient_id, fact_id)
        said = self.taken(FactEnded)
        with one_act():
            fact = held_fact(self.person, patient_id, fact_id)
            self.must_match(fact_said(fact))
            fact = services.end_limb_fact(
                fact=fact, ended_on=said["ended_on"], reason=said["because"], by=self.person
            )
        return self.answer(fact_said(fact))


class FactWithdrawal(Api):
    @changes(
        "withdraw_limb_fact",
        "limb facts",
        "Say that it never was so",
        Because,
        FactAnswer,
        "It stays in the record, struck through, and is listed no more.",
    )
    def post(self, request: Request, patient_id: int, fact_id: int) -> Response:
        queries.limb_fact_for(self.person, patient_id, fact_id)
        said = self.taken(Because)
        with one_act():
            fact = held_fact(self.person, patient_id, fact_id)
            self.must_match(fact_said(fact))
            fact = services.withdraw_limb_fact(fact=fact, reason=said["because"], by=self.person)
        return self.answer(fact_said(fact))
