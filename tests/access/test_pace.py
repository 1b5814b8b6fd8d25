"""How fast a program or device may ask: so often a minute, each by its own count, over all processes."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.cache import caches
from django.urls import reverse

from access import clock
from access.models import TrailRow
from tests.people import program, sending_client
from vaslab.counting import CountingFiles

JOBS = reverse("jobs_api:jobs")
MOST = 3


@pytest.fixture
def asking(settings, measurer):
    """A program that has asked as often as it may within this minute, which is held."""
    settings.REQUESTS_A_MINUTE = MOST
    client = sending_client(program("Ward system", measurer, "jobs.read"))
    with clock.at(clock.now().replace(second=20)):
        assert [client.get(JOBS).status_code for _ in range(MOST)] == [200] * MOST
        yield client


def test_who_asks_more_often_is_told_how_long_to_wait_in_the_one_shape_of_errors(asking):
    answer = asking.get(JOBS)

    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "40")
    assert answer.json()["code"] == "too_many_requests"
    assert set(answer.json()) == {"code", "field", "words", "what_to_do"}


def test_what_is_refused_for_another_reason_counts_too(asking):
    assert asking.get(reverse("patients_api:patients")).status_code == 429


def test_it_may_ask_again_in_the_next_minute(asking):
    asking.get(JOBS)
    caches["default"].clear()  # as its time, which is the machine's and not our held clock's, would

    with clock.at(clock.now() + timedelta(seconds=40)):
        assert asking.get(JOBS).status_code == 200


def test_neither_another_program_nor_whoever_watches_the_service_waits_for_it(asking, reporter, client):
    other = sending_client(program("Registry", reporter, "jobs.read"))

    assert other.get(JOBS).status_code == 200
    asked = [client.get(path).status_code for path in ("/health", "/ready") for _ in range(MOST + 1)]
    assert 429 not in asked


def test_one_line_of_the_trail_says_so_however_often_it_knocks(asking):
    for _ in range(4):
        asking.get(JOBS)

    line = TrailRow.objects.get(action="token asked too often")
    assert (line.user.full_name, line.details) == ("Ward system", {"wait_seconds": 40})


def test_a_cache_of_files_misses_no_try_of_many_at_the_same_instant_and_keeps_its_end(tmp_path):
    counts = CountingFiles(tmp_path, {})
    counts.add("asked", 0, timeout=40)
    end = (tmp_path / counts._key_to_file("asked")).read_bytes()[:20]

    with ThreadPoolExecutor(8) as many:
        found = sorted(many.map(lambda _: CountingFiles(tmp_path, {}).incr("asked"), range(200)))

    assert found == list(range(1, 201))
    assert (tmp_path / counts._key_to_file("asked")).read_bytes()[:20] == end


def test_a_count_that_is_over_begins_anew(tmp_path):
    counts = CountingFiles(tmp_path, {})
    counts.add("asked", 5, timeout=-1)

    with pytest.raises(ValueError, match="not found"):
        counts.incr("asked")
