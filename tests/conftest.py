"""What every test stands on. The people are in tests/people.py, the exams in tests/build.py."""

import gc
import importlib.util
import os
import shutil
import tempfile
from pathlib import Path

# Playwright's event loop stays open between tests; Django would refuse to touch the database beside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
os.environ.setdefault("VASLAB_DEMO", "1")
# Always a folder of its own: a test run empties its database, which must never be that of a running demo.
os.environ["VASLAB_DATA_DIR"] = tempfile.mkdtemp(prefix="vaslab-tests-")
os.environ["DJANGO_SETTINGS_MODULE"] = "vaslab.settings"
# The cache lives at the broker and is emptied after each test: tests side by side each need one of their own.
if (beside := os.environ.get("PYTEST_XDIST_WORKER", "gw0").removeprefix("gw")) != "0":
    address, _, number = os.environ.get("VASLAB_BROKER_URL", "").rpartition("/")
    if number.isdigit():
        os.environ["VASLAB_BROKER_URL"] = f"{address}/{int(number) - int(beside)}"

import django
import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection
from django.test import SimpleTestCase

django.setup()
# What was loaded once stays: looking through it for rubbish again and again takes a tenth of a run.
gc.freeze()
gc.set_threshold(100_000, 50, 50)

pytest_plugins = [
    name for name in ("tests.people", "tests.build") if importlib.util.find_spec(name) is not None
]


def pytest_configure(config):
    # Processes side by side inherit this environment. Were the settings named in it, they would be read
    # before this file, and all of them would share one folder: files, cache and rate limits.
    if config.getoption("numprocesses", None):
        del os.environ["DJANGO_SETTINGS_MODULE"]
    # A slow hash protects a stored password; a test has none to protect.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    # Each client of a test makes the middleware anew, which would list every file we serve each time.
    settings.WHITENOISE_AUTOREFRESH = True
    # A file, not memory: journal, locks and other processes (tests/processes.py) are then as in service.
    if connection.vendor == "sqlite":
        connection.settings_dict["TEST"]["NAME"] = str(connection.settings_dict["NAME"])


def pytest_unconfigure():
    shutil.rmtree(Path(os.environ["VASLAB_DATA_DIR"]), ignore_errors=True)


def pytest_collection_modifyitems(config, items):
    """Leave out what is about the other database, and, where asked, what asks no database anything."""
    other = {"sqlite": "postgres", "postgresql": "sqlite"}[connection.vendor]
    asked = os.environ.get("VASLAB_TESTS_ASKING_A_DATABASE") == "1"
    left_out = [item for item in items if item.get_closest_marker(other) or (asked and not _asks(item))]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


def _asks(item):
    """Whether a test can reach a database at all, or the processes that do."""
    return (
        item.get_closest_marker("django_db") is not None
        or item.get_closest_marker("workers") is not None
        or not {"db", "transactional_db", "live_server"}.isdisjoint(item.fixturenames)
        or (item.cls is not None and issubclass(item.cls, SimpleTestCase))
    )


@pytest.fixture(scope="session")
def django_db_modify_db_settings_parallel_suffix(request):
    """A file keeps its name, in a folder of its own: real processes beside a test look for it there."""
    if connection.vendor != "sqlite":
        request.getfixturevalue("django_db_modify_db_settings_xdist_suffix")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """Where everything is required, a test that skips itself has failed."""
    report = yield
    if report.skipped and os.environ.get("VASLAB_REQUIRE_SERVICES") == "1":
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped although everything is required: {report.longrepr}"
    return report


@pytest.fixture(autouse=True)
def _no_memory_of_other_tests():
    """Rate limits count in the cache; one test's sign-ins must not lock another's."""
    yield
    cache.clear()
