"""A real browser: Debian's Chromium, driven page by page, signed in as one of the cast."""

import os
import shutil
import threading

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.core.signals import request_finished, request_started
from playwright.sync_api import Browser, Page, expect, sync_playwright

from access import clock
from access.people import Person
from exams.visits import services
from exams.visits.models import Exam
from tests.browser.sheet import lie_down
from tests.patients.make import register
from tests.people import signed_in_client
from tests.processes import until

# Several machines' work may run beside a test: patience costs nothing where the page is quick.
expect.set_options(timeout=20_000)

# Debian's browser otherwise looks for updates and lists on its own.
QUIET = ["--disable-background-networking", "--disable-component-update", "--no-first-run"]


@pytest.fixture(scope="session")
def chromium():
    # The same browser without a window costs a quarter less time.
    path = (
        os.environ.get("VASLAB_BROWSER")
        or shutil.which("chromium-headless-shell")
        or shutil.which("chromium")
    )
    if not path:
        missing = "No Chromium: apt-get install chromium-headless-shell, or name one in VASLAB_BROWSER."
        if os.environ.get("VASLAB_REQUIRE_SERVICES") == "1":
            pytest.fail(missing)
        pytest.skip(missing)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def answering():
    """The live server's threads that are answering a request just now."""
    threads: set[int] = set()

    def begins(**said):
        if threading.current_thread() is not threading.main_thread():
            threads.add(threading.get_ident())

    def ends(**said):
        threads.discard(threading.get_ident())

    request_started.connect(begins)
    request_finished.connect(ends)
    yield threads
    request_started.disconnect(begins)
    request_finished.disconnect(ends)


@pytest.fixture
def page_as(chromium: Browser, live_server, answering):
    """``page_as(person, width=1440)`` opens a browser of its own in which that person is signed in.

    A page whose script fails, or that asks for what the policy of the site forbids, fails its test.
    """
    contexts, faults = [], []

    def opened(person: Person | None, *, width: int = 1440, height: int = 900, **options) -> Page:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}, **options
        )
        contexts.append(context)
        if person:
            sign_in(context, person, live_server.url)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console",
            lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None,
        )
        return page

    yield opened
    for context in contexts:
        context.close()
    # A page's last request may outlive the page; emptying the tables would then wait for it for ever.
    until(lambda: not answering, what="the end of the last request")
    assert faults == []


def sign_in(context, person: Person, url: str) -> None:
    """What the sign-in page leaves in the browser."""
    cookie = signed_in_client(person).cookies["sessionid"]
    context.add_cookies([{"name": "sessionid", "value": cookie.value, "url": url}])


@pytest.fixture
def accessible():
    """``accessible(page)`` lists what axe-core finds: rule, words and places; empty if nothing."""

    def found(page: Page) -> list[str]:
        return [
            f"{one['id']}: {one['help']} {[node['target'] for node in one['nodes']]}"
            for one in Axe().run(page).response["violations"]
        ]

    return found


@pytest.fixture
def patient(measurer):
    return register(measurer, family_name="Testfield", given_name="Nora")


@pytest.fixture
def booked(measurer, patient) -> Exam:
    return services.book_exam(patient=patient, exam_type="ankle_and_toe", booked_for=clock.now(), by=measurer)


@pytest.fixture
def resting(measurer, booked) -> Exam:
    return lie_down(booked, measurer)
