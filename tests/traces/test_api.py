"""What a device at the bedside gets for what it sends: taken once and whole, and words for every fault."""

import io
import json
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.db import connection
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from access.models import KeyUsed, TrailRow
from exams.traces.models import Trace, TracePiece
from exams.traces.services.growing import begin_trace
from exams.traces.services.sending import Said
from tests.build import booked_exam, ready_exam
from tests.house.files import HOUSE
from tests.people import cast_of, device, sending_client, token_of
from tests.processes import environment
from tests.traces.sending import PLACE, piece, recording

WHOLE_TRACES = reverse("traces_api:send")
GROWING = reverse("traces_api:begin")
JSON = "application/json"


def ask(client, method, address, sent=None, key="", kind=JSON):
    headers = {"Idempotency-Key": key} if key else {}
    body = sent if isinstance(sent, bytes) else json.dumps(sent).encode()
    return client.generic(method, address, body, kind, headers=headers)


def send(client, exam, key="recording-1", **changed):
    return ask(client, "POST", WHOLE_TRACES, {"exam": exam.pk, **PLACE, **piece(1), **changed}, key)


def begin(client, exam, key="recording-1", **changed):
    return ask(client, "POST", GROWING, {"exam": exam.pk, **PLACE, **changed}, key)


def send_piece(client, trace, number, **changed):
    address = reverse("traces_api:piece", args=[trace, number])
    return ask(client, "PUT", address, {**piece(number), **changed})


def finish(client, trace, pieces):
    return ask(client, "POST", reverse("traces_api:finish", args=[trace]), {"pieces": pieces})


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def client(gateway):
    return sending_client(gateway)


def test_a_recording_sent_again_under_its_key_is_the_same_recording(client, exam):
    answers = [send(client, exam) for _ in range(2)]

    assert [answer.status_code for answer in answers] == [201, 200]
    assert answers[0].json() == answers[1].json()
    assert Trace.objects.get().state == "waiting"


def test_the_same_content_in_other_letters_is_the_same_content(client, exam):
    sent = {"exam": exam.pk, **PLACE, **piece(1)}
    ask(client, "POST", WHOLE_TRACES, sent, "recording-1")

    reordered = json.dumps(dict(reversed(sent.items())), indent=3).encode()

    assert ask(client, "POST", WHOLE_TRACES, reordered, "recording-1").status_code == 200


def test_another_recording_under_the_same_key_is_refused_and_nothing_changed(client, exam):
    send(client, exam)

    answer = send(client, exam, side="left")

    assert (answer.status_code, answer.json()["code"]) == (409, "key_used")
    assert Trace.objects.get().side == "right"


def test_two_devices_may_use_the_same_key(client, exam, clinic):
    other = sending_client(device("Gateway of room 3", clinic))

    assert send(client, exam).status_code == 201
    assert send(other, exam, attempt=2).status_code == 201


def test_a_recording_grows_and_is_finished(client, exam):
    trace = begin(client, exam).json()["trace"]

    codes = [send_piece(client, trace, number).status_code for number in (1, 3, 3)]
    gaps = finish(client, trace, 3)
    send_piece(client, trace, 2)
    finished = finish(client, trace, 3)

    assert codes == [201, 201, 200]
    assert (gaps.status_code, gaps.json()["code"]) == (409, "pieces_missing")
    assert finished.json() == {
        "trace": trace,
        "exam": exam.pk,
        "attempt": 1,
        "state": "waiting",
        "pieces_there": 3,
        "pieces_missing": [],
    }
    assert Trace.objects.get().sample_count == 150


def test_a_device_that_lost_its_memory_learns_what_is_missing(client, exam):
    trace = begin(client, exam).json()["trace"]
    send_piece(client, trace, 1)
    send_piece(client, trace, 4)

    again = begin(client, exam)

    assert again.status_code == 200
    assert (again.json()["pieces_there"], again.json()["pieces_missing"]) == (2, [2, 3])


def test_of_two_at_the_same_instant_one_makes_the_recording(transactional_db, exam, gateway):
    start = Barrier(2)

    def one(_):
        try:
            start.wait(timeout=10)
            answer = send(sending_client(gateway), exam)
            return answer.status_code, answer.json()["trace"]
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(one, range(2)))

    made = Trace.objects.get()
    assert sorted(answers) == [(200, made.pk), (201, made.pk)]
    assert TracePiece.objects.count() == KeyUsed.objects.count() == 1


def test_a_piece_of_two_at_the_same_instant_is_kept_once(transactional_db, exam, gateway):
    trace = begin(sending_client(gateway), exam).json()["trace"]
    start = Barrier(2)

    def one(_):
        try:
            start.wait(timeout=10)
            return send_piece(sending_client(gateway), trace, 1).status_code
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(one, range(2))) == [200, 201]
    assert TracePiece.objects.count() == 1


def test_what_is_broken_off_halfway_leaves_nothing_and_its_key_free(client, exam):
    whole = json.dumps({"exam": exam.pk, **PLACE, **piece(1)}).encode()

    broken = ask(client, "POST", WHOLE_TRACES, whole[: len(whole) // 2], "recording-1")

    assert (broken.status_code, broken.json()["code"]) == (400, "not_readable")
    assert not Trace.objects.exists()
    assert not KeyUsed.objects.exists()
    assert send(client, exam).status_code == 201


@pytest.mark.workers
def test_a_process_killed_halfway_leaves_nothing_and_the_retry_is_the_first(transactional_db, exam, gateway):
    command = [sys.executable, "-m", "tests.traces.half_sent", str(exam.pk), str(gateway.user.pk)]
    with subprocess.Popen(command, cwd=HOUSE, env=environment(), stdout=subprocess.PIPE) as process:
        assert process.stdout.readline() == b"taken\n"
        process.kill()

    assert not Trace.objects.exists()
    assert not KeyUsed.objects.exists()
    assert send(sending_client(gateway), exam).status_code == 201


def test_an_exam_of_another_clinic_is_not_there(exam, other_clinic):
    stranger = sending_client(device("Gateway of Lock Street", other_clinic))

    answer = send(stranger, exam)

    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
    assert TrailRow.objects.filter(action="asked for what is not here").count() == 1


def test_a_recording_of_another_device_is_not_there(client, exam, clinic):
    trace = begin(client, exam).json()["trace"]
    other = sending_client(device("Gateway of room 3", clinic))

    assert [send_piece(other, trace, 1).status_code, finish(other, trace, 1).status_code] == [404, 404]


def test_an_exam_that_is_not_being_measured_is_said_in_words(client, measurer):
    exam = booked_exam(measurer)

    answer = send(client, exam)

    assert answer.status_code == 409
    assert answer.json() == {
        "code": "exam_not_being_measured",
        "field": "exam",
        "words": f"Exam {exam.pk} is booked. Confirm the person's identity first.",
        "what_to_do": "Keep the recording, and send it again with the same key once the exam is being "
        "measured.",
    }


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"side": "both"}, "side"),
        ({"attempt": 4}, "attempt"),
        ({"recorded_at": "yesterday"}, "recorded_at"),
        ({"recorded": "2026-11-25T10:00:00Z"}, "recorded"),
        ({"time_s": "0,1"}, "time_s"),
        ({"time_s": [0, 1, None]}, "time_s"),
        ({"time_s": [0.0, 2.0, 1.0], "cuff_mmhg": [1, 2, 3], "signal": [1, 2, 3]}, "time_s"),
        ({"time_s": [0.0, 1801.0], "cuff_mmhg": [1, 2], "signal": [1, 2]}, "time_s"),
        ({"cuff_mmhg": [120.0]}, "cuff_mmhg"),
        ({"signal": [True] * 50}, "signal"),
        ({"signal": [10**400] * 50}, "signal"),
    ],
)
def test_a_value_that_will_not_do_is_named_and_nothing_kept(client, exam, changed, field):
    answer = send(client, exam, **changed)

    assert answer.status_code in (413, 422)
    assert answer.json()["field"] == field
    assert all(answer.json()[part] for part in ("code", "words", "what_to_do"))
    assert not Trace.objects.exists()


def send_file(client, exam, content, key="recording-1", name="Fenwick Iris left foot.csv", **changed):
    fields = {"exam": exam.pk, **PLACE, "file": ContentFile(content, name), **changed}
    return client.post(WHOLE_TRACES, fields, headers={"Idempotency-Key": key})


def table(made) -> bytes:
    rows = (",".join(map(str, row)) for row in zip(*made.values(), strict=True))
    return "\n".join(("time_s,cuff_mmhg,ppg", *rows)).encode()


def test_a_file_is_kept_as_it_came_and_read(client, exam):
    content = table(recording())

    answers = [send_file(client, exam, content) for _ in range(2)]

    kept = Trace.objects.get()
    assert [answer.status_code for answer in answers] == [201, 200]
    assert (kept.state, kept.format, kept.site) == ("waiting", "csv", "toe_1")
    assert kept.original.read() == content
    assert "Fenwick" not in kept.original.name


def test_a_file_whose_columns_are_not_clear_waits_for_a_person(client, exam):
    content = table(recording()).replace(b"time_s,cuff_mmhg,ppg", b"a,b,c")

    answer = send_file(client, exam, content)

    assert (answer.status_code, answer.json()["state"]) == (201, "arrived")


def test_a_file_that_is_no_recording_is_refused_in_words_and_not_kept(client, exam):
    answer = send_file(client, exam, b"%PDF-1.7 a letter about somebody")

    assert (answer.status_code, answer.json()["field"]) == (422, "file")
    assert not Trace.objects.exists()


def test_missing_samples_are_kept_as_missing(client, exam):
    sent = {"time_s": [0, 0.02, 0.04], "cuff_mmhg": [120, None, 119], "signal": [None, 1, 2]}

    assert send(client, exam, **sent).status_code == 201


@pytest.mark.parametrize("key", ["", "short", "with a space", "k" * 61, "schlüssel"])
def test_a_key_is_wanted(client, exam, key):
    answer = send(client, exam, key=key)

    assert (answer.status_code, answer.json()["field"]) == (422, "Idempotency-Key")


def test_a_body_larger_than_is_taken_is_refused_unread(client, exam):
    trace = begin(client, exam).json()["trace"]

    answer = ask(client, "PUT", reverse("traces_api:piece", args=[trace, 1]), b" " * (2 * 1024 * 1024 + 1))

    assert (answer.status_code, answer.json()["code"]) == (413, "body_too_large")


@pytest.mark.parametrize(
    ("body", "kind", "code"),
    [
        (b"[" * 60_000, JSON, 400),
        (b"\xff\xfe{}", JSON, 400),
        (b'{"exam": NaN}', JSON, 400),
        (b"exam=1", "application/x-www-form-urlencoded", 415),
        (b"{}", "application/json; charset=zlib", 422),
        (b"[]", JSON, 422),
        (b"null", JSON, 422),
        (b'{"\\ud800": "\\ud800"}', JSON, 422),
        (b"", JSON, 422),
    ],
)
def test_a_body_that_is_none_is_answered(client, body, kind, code):
    answer = ask(client, "POST", GROWING, body, "recording-1", kind)

    assert answer.status_code == code
    assert set(answer.json()) == {"code", "field", "words", "what_to_do"}


@pytest.mark.parametrize(
    ("method", "address", "code"),
    [
        ("PUT", WHOLE_TRACES, 405),
        ("POST", "/api/v1/traces/9/nothing/", 404),
        ("PUT", f"/api/v1/traces/{2**63}/pieces/1/", 404),
        ("PUT", f"/api/v1/traces/{'9' * 40}/pieces/1/", 404),
        ("POST", "/api/v1/traces/7/finish/", 404),
    ],
)
def test_every_error_has_the_one_shape(client, method, address, code):
    answer = ask(client, method, address, {"pieces": 1})

    assert answer.status_code == code
    assert set(answer.json()) == {"code", "field", "words", "what_to_do"}


def test_neither_token_nor_recording_is_in_the_log(client, exam, gateway, caplog):
    send(client, exam, side="both")

    assert "traces_api:send" in caplog.text
    assert token_of(gateway.user) not in caplog.text
    assert "two_cuffs" not in caplog.text


def test_the_script_of_the_documentation_sends_a_recording(live_server, exam, gateway):
    text = (HOUSE / "docs/trace-gateway.md").read_text(encoding="utf-8")
    script = {"__name__": "a gateway"}
    exec(re.search(r"```python\n(.*?)```", text, re.DOTALL)[1], script)  # noqa: S102
    script |= {"SERVICE": live_server.url, "TOKEN": token_of(gateway.user)}
    made = recording(3)
    rows = [
        dict(zip(("time_s", "cuff_mmhg", "ppg"), map(str, row), strict=True))
        for row in zip(*made.values(), strict=True)
    ]

    number = script["send"](rows, "room2-2026-11-25-0007", exam=exam.pk, **PLACE)

    sent = Trace.objects.get(pk=number)
    assert (sent.state, sent.pieces.count(), sent.sample_count) == ("waiting", 3, 150)


def test_a_simulated_gateway_plays_a_recording_into_an_exam(live_server, exam, system_administrator, capsys):
    said = {"exam": exam.pk, "side": "left", "site": "toe_2", "speed": 10_000, "service": live_server.url}

    call_command("send_simulated_trace", **said)

    sent = Trace.objects.get()
    assert (sent.state, sent.side, sent.site, sent.received_by.full_name) == (
        "waiting",
        "left",
        "toe_2",
        "Simulated gateway",
    )
    assert f"/traces/{sent.pk}/live/" in capsys.readouterr().out


ODD: st.SearchStrategy[object] = (
    st.just([]) | st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
)
NUMBERS = st.lists(st.floats(width=32) | st.none() | st.integers(-(10**20), 10**20), max_size=6)
FIELDS = {
    **dict.fromkeys(("exam", "attempt", "pieces"), st.integers(-1, 4)),
    "side": st.sampled_from(["right", "left"]),
    "site": st.sampled_from(["toe_1", "arm"]),
    "technique": st.sampled_from(["two_cuffs", "doppler"]),
    "recorded_at": st.datetimes().map(lambda at: at.isoformat()),
    **dict.fromkeys(("time_s", "cuff_mmhg", "signal"), NUMBERS),
}
BODIES = st.fixed_dictionaries({}, optional={name: good | ODD for name, good in FIELDS.items()}) | ODD
OPERATIONS = [
    ("POST", WHOLE_TRACES),
    ("POST", GROWING),
    ("PUT", reverse("traces_api:piece", args=[1, 1])),
    ("POST", reverse("traces_api:finish", args=[1])),
]


def _part(name: bytes, said: bytes, more: bytes = b"", *, own: bool = False):
    """One part of a form: its head, what it says, and whether it says the number of the exam instead."""
    return b'Content-Disposition: form-data; name="' + name + b'"' + more, said + b"\r\n", own


_FILE = b'; filename="left.csv"'
_WHOLE = [
    _part(b"exam", b"", own=True),
    *(_part(name.encode(), str(said).encode()) for name, said in {**PLACE, "attempt": 2}.items()),
    _part(b"file", table(recording(1)), _FILE),
]
_ODD_PARTS = st.sampled_from(
    [
        _part(b"file", b"time_s,cuff_mmhg,ppg", _FILE),
        _part(b"file", b"", b'; filename=""'),
        _part(b"file", b"no file at all"),
        _part(b"file", table(recording(1)), b"; filename*=UTF-8''%ff%fe%00.csv"),
        _part(b"file", b"%%%", _FILE + b"\r\nContent-Transfer-Encoding: base64"),
        _part(b"file", table(recording(1)), _FILE + b"\r\nContent-Type: text/csv; charset=\xff"),
        _part(b"exam", b"\xff\x00"),
        _part(b"attempt", b"9" * 400),
        _part(b"\xff\xfe", b"\x00"),
        _part(b"side", b"left", b'; name="side"'),
        (b"", b"a part without a head\r\n", False),
    ]
)
# Mostly a whole form with something odd in it, so that what stands behind the reading of it is reached too.
FORMS = st.builds(
    lambda odd, left_out: [*[one for at, one in enumerate(_WHOLE) if at != left_out], *odd],
    st.lists(_ODD_PARTS, max_size=2),
    st.integers(0, 12),
)
MOSTLY_X = st.just("x") | st.sampled_from(["x", "", "y", 'x"; odd="', "x" * 80])


class Fuzz(TestCase):
    """Any body to any operation gets an answer that the description declares."""

    @classmethod
    def setUpTestData(cls):
        cls.cast = cast_of("Alder House")
        cls.exam = ready_exam(cls.cast.measurer)
        said = Said(**PLACE)
        cls.trace, _ = begin_trace(exam=cls.exam, said=said, key="the-recording", by=cls.cast.gateway)
        said = io.StringIO()
        call_command("spectacular", "--format", "openapi-json", stdout=said)
        cls.described = json.loads(said.getvalue())["paths"]

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.sampled_from(OPERATIONS), BODIES, st.booleans())
    def test_no_body_is_a_failure(self, operation, body, of_this_exam):
        method, address = operation
        client = sending_client(self.cast.gateway)
        address = address.replace("/1/", f"/{self.trace.pk}/", 1)
        if of_this_exam and isinstance(body, dict):
            body = {**body, "exam": self.exam.pk}

        answer = ask(client, method, address, body, key="another-one")

        declared = self.described[_as_described(address)][method.lower()]["responses"]
        assert answer.status_code < 500
        assert str(answer.status_code) in declared

    @settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
    @given(FORMS, MOSTLY_X, st.just(0) | st.integers(0, 40))
    def test_no_form_is_a_failure_and_none_is_kept_twice(self, parts, boundary, cut_off):
        client = sending_client(self.cast.gateway)
        exam = str(self.exam.pk).encode()
        body = b"".join(
            b"--x\r\n" + head + b"\r\n\r\n" + (exam if own else said) for head, said, own in parts
        )
        body = (body + b"--x--\r\n")[: -cut_off or None]
        there = Trace.objects.count()

        kind = f"multipart/form-data; boundary={boundary}"
        answers = [ask(client, "POST", WHOLE_TRACES, body, "a-form-of-it", kind) for _ in range(2)]

        declared = self.described[WHOLE_TRACES]["post"]["responses"]
        assert {str(answer.status_code) for answer in answers} <= {*declared}
        assert Trace.objects.count() == there + (answers[0].status_code == 201)
        assert answers[1].status_code == (200 if answers[0].status_code == 201 else answers[0].status_code)


def _as_described(address):
    parts = address.split("/")
    if len(parts) > 6:
        parts[4] = "{trace_id}"
        parts[6] = "{number}" if parts[5] == "pieces" else parts[6]
    return "/".join(parts)
