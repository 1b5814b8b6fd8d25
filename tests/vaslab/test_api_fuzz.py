"""Every operation for programs, tried by its own description: each answer is one that it describes.

What is sent is made from the description: half of it as described, half of it on purpose not. So that it gets
past the door, addresses and bodies name things that exist, the key is a new one, and every other change
carries the mark of the state that stands. What is drawn hangs on the operation's name, so every run is alike.
"""

import io
import json
from functools import cache

import schemathesis
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from django.test import TestCase, override_settings
from django.urls import resolve
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)
from werkzeug.test import Client

from access.roles import Role
from exams.traces.services.growing import begin_trace
from exams.traces.services.sending import Said
from tests.access.test_role_walk import NO_COUNTING, WALKS
from tests.build import ready_exam
from tests.people import cast_of, person, program, token_of
from vaslab.wsgi import application

LOOKS, CHANGES = 2, 4
# Drawn so that most cases are about something that exists, in the state that stands.
MOSTLY_NOT = st.sampled_from([False, False, False, True])
AT_THE_DOOR = {401, 403, 404}
CHECKS = [
    schemathesis.checks.not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]


@cache
def described():
    said = io.StringIO()
    call_command("spectacular", "--format", "openapi-json", stdout=said)
    return json.loads(said.getvalue())


def operations():
    schema = schemathesis.openapi.from_dict(described())
    schema.app = application
    return [one.ok() for one in schema.get_all_operations()]


@override_settings(CACHES=NO_COUNTING)
class EveryOperation(TestCase):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        # Between two requests of a server a connection may be closed; here the whole test stands on one.
        for signal in (request_started, request_finished):
            signal.disconnect(close_old_connections)
            cls.addClassCleanup(signal.connect, close_old_connections)

    @classmethod
    def setUpTestData(cls):
        cast = cast_of("Alder House")
        cls.known = {}
        for walk in WALKS:
            cls.known |= walk.examples(cast)
        roles = (Role.MEASURER, Role.REPORTER, Role.WOUND_TEAM, Role.ADMINISTRATOR)
        acting = program("Program of all trades", person("Paula Polymath", cast.clinic, *roles))
        cls.bearer = {"Authorization": f"Bearer {token_of(acting.user)}"}
        exam = ready_exam(cast.measurer)
        cls.numbers = {"patient": exam.patient_id, "exam": exam.pk}
        # What a program sends in pieces is its own alone.
        said = Said("left", "toe_1", 1, "two_cuffs")
        trace, _ = begin_trace(exam=exam, said=said, key="of-all-trades", by=acting)
        of_trace = {"trace_id": trace.pk}
        cls.known |= {"traces_api:piece": {**of_trace, "number": 1}, "traces_api:finish": of_trace}

    def test_every_operation_answers_as_described(self):
        for operation in operations():
            with self.subTest(operation=operation.label):
                answered = {status for mode in GenerationMode for status in self._answers(operation, mode)}
                assert answered - AT_THE_DOOR, "nothing sent got past the door"

    def _answers(self, operation, mode):
        """The status of each answer; a failed check names the case that made it fail."""
        statuses = []

        @seed(len(operation.label))
        @settings(
            max_examples=LOOKS if operation.method == "get" else CHANGES,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        @given(case=operation.as_strategy(generation_mode=mode), absent=MOSTLY_NOT, overtaken=MOSTLY_NOT)
        def tried(case, absent, overtaken):
            before = transaction.savepoint()
            try:
                self._make_likely(case, not absent, not overtaken)
                answer = case.call_and_validate(checks=CHECKS, headers=self.bearer)
                statuses.append(answer.status_code)
            finally:
                transaction.savepoint_rollback(before)

        tried()
        return statuses

    def _make_likely(self, case, there, current):
        """Let a case be about what exists, and a change about the state that stands."""
        headers = dict(case.headers or {})
        if there and case.path_parameters:
            case.path_parameters = {**case.path_parameters, **self._known_of(case)}
            if isinstance(case.body, dict):
                case.body |= {name: self.numbers[name] for name in self.numbers if name in case.body}
        if current and "If-Match" in headers:
            headers["If-Match"] = self._etag_at(case.formatted_path)
        case.headers = headers

    def _known_of(self, case):
        address = case.operation.path
        for name in case.path_parameters:
            address = address.replace("{" + name + "}", "1")
        return self.known.get(resolve(address).view_name, {})

    def _etag_at(self, path):
        """The mark of what an address, or the nearest one above it, stands for."""
        parts = path.strip("/").split("/")
        while len(parts) > 3:
            answer = Client(application).get(f"/{'/'.join(parts)}/", headers=self.bearer)
            if answer.headers.get("ETag"):
                return answer.headers["ETag"]
            parts.pop()
        return '"none"'
