"""The server is killed in mid-entry: every acknowledged value is there afterwards, and none half written."""

import http.client
from threading import Event, Thread
from urllib.parse import urlencode, urlsplit
from uuid import uuid4

import pytest

from access.models import TrailRow
from exams.visits.models import Exam, Reading
from exams.visits.services import differences
from tests.build import ready_exam
from tests.people import signed_in_client
from tests.processes import kill, until, web_server

pytestmark = pytest.mark.workers
TOKEN = "k" * 32


class Bedside(Thread):
    """Somebody who types hallux pressures one after another until the service is gone."""

    def __init__(self, address: str, exam: Exam, session: str) -> None:
        super().__init__()
        self.server, self.exam, self.session = urlsplit(address), exam, session
        self.acknowledged: list[tuple[str, int]] = []
        self.unanswered: tuple[str, int] | None = None
        self.gone = Event()

    def run(self) -> None:
        revision, mmhg = 0, 20
        while not self.gone.is_set():
            mmhg = mmhg + 1 if mmhg < 290 else 20
            number = str(uuid4())
            self.unanswered = (number, mmhg)
            try:
                status, body = send(self.server, self.exam, self.session, number, mmhg, revision)
            except OSError:
                self.gone.set()
                return
            assert status == 200, body
            self.acknowledged.append((number, mmhg))
            revision = Reading.objects.get(client_id=number).pk


def send(server, exam, session, number, mmhg, revision) -> tuple[int, bytes]:
    connection = http.client.HTTPConnection(server.hostname, server.port, timeout=20)
    said = {
        "field": "right.toe_1.1",
        "typed": mmhg,
        "technique": "two_cuffs",
        "client_id": number,
        "seen_revision": revision,
    }
    headers = {
        "Content-Type": "application/x-www-form-urlencoded",
        "Cookie": f"sessionid={session}; csrftoken={TOKEN}",
        "X-CSRFToken": TOKEN,
        "Accept": "application/json",
    }
    try:
        connection.request("POST", f"/exams/{exam.pk}/save/", urlencode(said), headers)
        answer = connection.getresponse()
        return answer.status, answer.read()
    except http.client.HTTPException as lost:
        raise ConnectionError(lost) from lost
    finally:
        connection.close()


def test_no_acknowledged_value_is_lost_when_the_server_is_killed(transactional_db, measurer):
    exam = ready_exam(measurer)
    session = signed_in_client(measurer).cookies["sessionid"].value
    with web_server() as (server, address):
        bedside = Bedside(address, exam, session)
        bedside.start()
        until(lambda: len(bedside.acknowledged) >= 5, what="the fifth acknowledged value")
        kill(server)
        bedside.join(timeout=30)

    stored = {str(row.client_id): row for row in Reading.objects.filter(exam=exam)}
    assert [stored[number].pressure_mmhg for number, _ in bedside.acknowledged] == [
        mmhg for _, mmhg in bedside.acknowledged
    ]
    # At most the one under way is there beside them, and then whole: with its line and its findings.
    assert set(stored) - {number for number, _ in bedside.acknowledged} <= {bedside.unanswered[0]}
    lines = set(
        TrailRow.objects.filter(action="reading recorded", subject_type="visits.reading").values_list(
            "subject_id", flat=True
        )
    )
    assert {str(row.pk) for row in stored.values()} <= lines
    assert differences(Exam.objects.select_related("clinic", "patient").get(pk=exam.pk)) == []


def test_the_value_without_an_answer_is_sent_again_and_stored_once(transactional_db, measurer):
    exam = ready_exam(measurer)
    session = signed_in_client(measurer).cookies["sessionid"].value
    with web_server() as (server, address):
        bedside = Bedside(address, exam, session)
        bedside.start()
        until(lambda: bedside.acknowledged, what="an acknowledged value")
        kill(server)
        bedside.join(timeout=30)

    number, mmhg = bedside.unanswered
    last = Reading.objects.get(client_id=bedside.acknowledged[-1][0]).pk
    with web_server() as (_, address):
        status, body = send(urlsplit(address), exam, session, number, mmhg, last)

    assert status == 200, body
    assert Reading.objects.get(client_id=number).pressure_mmhg == mmhg
