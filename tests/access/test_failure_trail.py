"""What was refused or went wrong is in the trail too, written after its own changes were undone."""

import io
import json
import logging

import pytest
from django.urls import reverse

from access.matrix import UrlRule, matrix
from access.models import Clinic, TrailRow

PAGES = ("refuse", "not_here", "not_found", "fail")


@pytest.fixture
def client(measurer, client_as, monkeypatch, settings):
    settings.ROOT_URLCONF = "tests.access.failing_pages"
    for name in PAGES:
        monkeypatch.setitem(matrix().urls, name, UrlRule(name, {"GET": "see patient"}))
    client = client_as(measurer)
    client.raise_request_exception = False
    return client


def test_a_refused_act_leaves_a_line(client, measurer):
    assert client.get("/refuse/17/").status_code == 403

    row = TrailRow.objects.get()
    assert (row.action, row.user, row.role) == ("refused", measurer.user, "measurer")
    assert row.details == {"page": "refuse", "method": "GET", "numbers": {"patient_id": "17"}}


def test_asking_for_another_clinics_record_leaves_a_line(client):
    assert client.get("/not-here/17/").status_code == 404

    assert TrailRow.objects.get().action == "asked for what is not here"


def test_an_address_that_leads_nowhere_leaves_none(client):
    assert client.get("/not-found/17/").status_code == 404

    assert not TrailRow.objects.exists()


def test_a_failed_act_is_undone_and_leaves_a_line(client):
    assert client.get("/fail/17/").status_code == 500

    assert not Clinic.objects.filter(name="Mill Lane").exists()
    assert TrailRow.objects.get().action == "failed"


def test_neither_the_page_nor_the_trail_repeats_the_words_of_the_failure(client):
    page = client.get("/fail/17/").content.decode()

    assert "Agatha" not in page
    assert "Agatha" not in str(TrailRow.objects.values())


@pytest.fixture
def log():
    """What the service's own handler prints while the test runs."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(logging.getLogger("django").handlers[0].formatter)
    logging.getLogger("django").addHandler(handler)
    yield stream
    logging.getLogger("django").removeHandler(handler)


def test_nothing_in_the_log_names_a_person(client, measurer, log):
    client.get("/fail/17/")

    printed = log.getvalue()
    assert json.loads(printed.splitlines()[0])["error"] == "RuntimeError"
    assert "Agatha" not in printed
    assert measurer.name not in printed


def test_a_page_refused_by_the_matrix_leaves_a_line(educator, client_as):
    assert client_as(educator).get(reverse("access:staff")).status_code == 403

    row = TrailRow.objects.get()
    assert (row.action, row.details["page"]) == ("refused", "access:staff")


def test_a_form_without_its_token_is_refused_and_leaves_a_line(administrator, client_as):
    browser = client_as(administrator)
    browser.handler.enforce_csrf_checks = True

    answer = browser.post(reverse("access:clinic"), {"name": "Taken over"})

    assert answer.status_code == 403
    row = TrailRow.objects.get()
    assert (row.action, row.user) == ("refused, form expired or not ours", administrator.user)
    assert not Clinic.objects.filter(name="Taken over").exists()
