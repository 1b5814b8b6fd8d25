"""Two web servers and two workers on one database and one broker, as on machines of their own."""

from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from django.conf import settings
from django.urls import reverse

from access import clock
from jobs.models import Job
from tests.jobs.test_workers import KINDS, gate  # noqa: F401  (a fixture)
from tests.people import program, signed_in_client, token_of
from tests.processes import kill, until, web_server, worker

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]

MANY = 24
MOST = 10


@pytest.fixture
def book():
    path = settings.DATA_DIR / "book"
    path.unlink(missing_ok=True)
    yield path
    path.unlink(missing_ok=True)


def test_every_job_is_done_once_though_one_of_two_workers_is_killed(measurer, gate, book):  # noqa: F811
    jobs = [_failed("sign the book", measurer) for _ in range(MANY)]
    held = _failed("wait at the gate", measurer)
    session = signed_in_client(measurer).cookies["sessionid"].value

    asking = token_of(program("Ward system", measurer).user)

    with (
        web_server(VASLAB_REQUESTS_A_MINUTE=str(MOST)) as (_, one),
        web_server(VASLAB_REQUESTS_A_MINUTE=str(MOST)) as (_, two),
        worker(KINDS) as first,
        worker(KINDS) as second,
    ):
        _try_again(one, held, session)
        arrived = settings.DATA_DIR / "arrived-1"
        until(lambda: arrived.exists() and arrived.read_text(), what="a worker's arrival at the gate")
        for number, job in enumerate(jobs):
            _try_again((one, two)[number % 2], job, session)
        kill(next(each for each in (first, second) if each.pid == int(arrived.read_text())))
        gate.touch()
        until(lambda: not Job.objects.exclude(state="done").exists(), what="the end of every job")
        page = urlopen(Request(two + _state_of(held), headers=_with(session))).read().decode()  # noqa: S310
        # Twice, in case a minute ends in between.
        counted_together = any(_is_one_too_many(one, two, asking) for _ in range(2))

    assert sorted(map(int, book.read_text().split())) == [job.pk for job in jobs]
    assert set(Job.objects.exclude(pk=held.pk).values_list("attempt", flat=True)) == {1}
    assert Job.objects.get(pk=held.pk).result == {"attempt": 2}
    assert "Done" in page
    assert counted_together


def _failed(kind, by):
    return Job.objects.create(
        kind=kind, user=by.user, clinic=by.clinic, state="failed", reason="as before", ended_at=clock.now()
    )


def _try_again(server, job, session):
    """What the button on a job's page sends; the answer leads to the page."""
    token = "f" * 32
    headers = _with(session, f"; csrftoken={token}") | {"X-CSRFToken": token, "HX-Request": "true"}
    address = server + reverse("jobs:try_again", args=[job.pk])
    with urlopen(Request(address, data=b"", headers=headers)) as answer:  # noqa: S310
        assert answer.status == 200


def _is_one_too_many(one, two, token):
    """Whether a program that asked one server as often as it may is made to wait by the other."""
    return [_asked(server, token) for server in [one] * MOST + [two]] == [200] * MOST + [429]


def _asked(server, token):
    address = server + reverse("jobs_api:jobs")
    try:
        return urlopen(Request(address, headers={"Authorization": f"Bearer {token}"})).status  # noqa: S310
    except HTTPError as refused:
        return refused.code


def _state_of(job):
    return reverse("jobs:state", args=[job.pk])


def _with(session, more=""):
    return {"Cookie": f"sessionid={session}{more}"}
