"""What every test stands on. The people are in tests/people.py, the exams in tests/build.py."""

import importlib.util
import os
import tempfile

# Playwright's event loop stays open between tests; Django would refuse to touch the database beside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
os.environ.setdefault("VASLAB_DEMO", "1")
os.environ.setdefault("VASLAB_SECRET_KEY", "only for tests, where nobody signs in from outside")
# Nothing a test writes lands in the folder of a running demo.
os.environ.setdefault("VASLAB_DATA_DIR", tempfile.mkdtemp(prefix="vaslab-tests-"))

import pytest

pytest_plugins = [
    name for name in ("tests.people", "tests.build") if importlib.util.find_spec(name) is not None
]


def pytest_configure():
    from django.conf import settings

    # A slow hash protects a stored password; a test has none to protect.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def _no_memory_of_other_tests():
    """Rate limits count in the cache; one test's sign-ins must not lock another's."""
    from django.core.cache import cache

    yield
    cache.clear()
