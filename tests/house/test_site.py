"""The frame every page stands in: headers, error pages, settings, logs."""

import io
import json
import logging
from types import SimpleNamespace

import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import connection
from django.test import Client, override_settings
from django.urls import path

from vaslab import checks
from vaslab.logging import LOGGING
from vaslab.version import version

pytestmark = pytest.mark.django_db


def test_the_health_page_is_open_and_says_only_that_all_is_well(client):
    answer = client.get("/health")

    assert answer.json() == {"status": "well", "version": version()}


def test_the_policy_of_every_page_forbids_inline_code_and_other_hosts(client):
    policy = client.get("/health").headers["Content-Security-Policy"]

    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert "unsafe" not in policy
    assert "://" not in policy


@pytest.mark.parametrize(
    "address", ["/health", "/about/", "/accounts/login/", "/nothing-here/", "/patients/"]
)
def test_every_answer_shuts_out_other_sites_and_the_machines_devices(client, address):
    said = client.get(address).headers

    assert said["X-Frame-Options"] == "DENY"
    assert said["X-Content-Type-Options"] == "nosniff"
    assert said["Referrer-Policy"] == "same-origin"
    assert said["Cross-Origin-Opener-Policy"] == said["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "camera=()" in said["Permissions-Policy"]
    assert "default-src 'none'" in said["Content-Security-Policy"]


def test_a_host_that_is_not_ours_is_refused(client):
    assert client.get("/about/", headers={"host": "elsewhere.example"}).status_code == 400


def test_cookies_are_kept_from_scripts_and_other_sites(client):
    client.get("/accounts/login/")
    cookie = client.cookies["csrftoken"]

    assert cookie["samesite"] == "Lax"
    assert settings.SESSION_COOKIE_HTTPONLY
    assert settings.SESSION_COOKIE_SAMESITE == "Lax"


def test_a_page_that_is_not_there_answers_404_without_repeating_its_address(client):
    answer = client.get("/patients/Quill-1950/")

    assert answer.status_code == 404
    assert b"Quill" not in answer.content


def broken(request):
    raise ValueError("Ada Quill, born 1950")


urlpatterns = [path("broken/Quill/", broken, name="health")]  # the name of a page that is open to all
handler500 = "vaslab.errors.failed"


@override_settings(ROOT_URLCONF=__name__)
def test_a_fault_of_ours_answers_500_and_neither_page_nor_log_says_what_was_typed(service_log):
    answer = Client(raise_request_exception=False).get(
        "/broken/Quill/?born=1950", headers={"user-agent": "Quill"}
    )

    assert answer.status_code == 500
    assert b"Quill" not in answer.content
    assert "Quill" not in service_log.getvalue()
    assert "1950" not in service_log.getvalue()


@override_settings(ROOT_URLCONF=__name__)
def test_a_fault_of_ours_is_logged_by_its_kind_and_its_lines_of_code(service_log):
    Client(raise_request_exception=False).get("/broken/Quill/")

    lines = [json.loads(line) for line in service_log.getvalue().splitlines()]
    fault = next(line for line in lines if "error" in line)
    assert fault["error"] == "ValueError"
    assert fault["at"][-1].endswith(" broken")


def test_a_librarys_message_is_logged_without_what_was_filled_in(service_log):
    logging.getLogger("django.request").warning("Not Found: %s", "/patients/Quill/")

    assert json.loads(service_log.getvalue())["event"] == "Not Found: %s"


@pytest.mark.sqlite
def test_sqlite_keeps_what_it_acknowledged_and_lets_writers_queue():
    def pragma(name):
        with connection.cursor() as cursor:
            return cursor.execute(f"PRAGMA {name}").fetchone()[0]

    assert (pragma("journal_mode"), pragma("synchronous"), pragma("foreign_keys")) == ("wal", 2, 1)
    assert pragma("busy_timeout") == 20000
    assert connection.transaction_mode == "IMMEDIATE"


SAFE = {
    "ALLOWED_HOSTS": ["localhost"],
    "SECOND_FACTOR_REQUIRED": True,
    "DEBUG": False,
    "SECRET_KEY": "k" * 40,
    "JOB_BEAT": settings.JOB_BEAT,
    "JOB_LOST_AFTER": settings.JOB_LOST_AFTER,
}


def test_safe_settings_start():
    checks.stop_if_unsafe(SimpleNamespace(**SAFE))


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"SECOND_FACTOR_REQUIRED": False, "ALLOWED_HOSTS": ["clinic.example"]}, "VASLAB_DEMO"),
        ({"DEBUG": True, "ALLOWED_HOSTS": ["clinic.example"]}, "VASLAB_DEBUG"),
        ({"SECRET_KEY": "short"}, "VASLAB_SECRET_KEY"),
        ({"JOB_LOST_AFTER": settings.JOB_BEAT}, "VASLAB_JOB_LOST_SECONDS"),
    ],
)
def test_unsafe_settings_stop_the_start_and_are_named(changed, named):
    with pytest.raises(ImproperlyConfigured, match=named):
        checks.stop_if_unsafe(SimpleNamespace(**SAFE | changed))


@pytest.fixture
def service_log():
    """What the service writes to its log, formatted as in service."""
    from logging.config import DictConfigurator

    written = io.StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(DictConfigurator(LOGGING).configure_formatter(dict(LOGGING["formatters"]["json"])))
    listened = [logging.getLogger(), logging.getLogger("django")]
    for logger in listened:
        logger.addHandler(handler)
    yield written
    for logger in listened:
        logger.removeHandler(handler)
