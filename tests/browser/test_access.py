"""Signing in by keyboard, and a page that nobody uses for a while."""

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "a walk along the quiet fen"


@pytest.fixture
def unused_page(page_as, administrator, settings):
    """The clinic's settings, half typed, and left alone for longer than a page stays open."""
    page = page_as(administrator)
    page.clock.install()
    page.goto("/people/clinic/")
    page.get_by_label("Phone").fill("00000 999")
    page.clock.fast_forward(int(settings.IDLE_MINUTES * 60_000) + 10_000)
    return page


def test_an_unused_page_is_covered(unused_page):
    expect(unused_page.get_by_role("dialog")).to_contain_text("Locked, because nobody used this page")
    expect(unused_page.locator("main")).to_be_hidden()


def test_the_cover_cannot_be_lifted_by_escape(unused_page):
    unused_page.keyboard.press("Escape")
    unused_page.keyboard.press("Escape")

    expect(unused_page.locator("main")).to_be_hidden()


def test_a_covered_page_opens_again_for_the_same_person_with_what_was_typed(unused_page):
    unused_page.get_by_role("button", name="Go on").click()

    expect(unused_page.get_by_label("Phone")).to_have_value("00000 999")


def test_a_covered_page_stays_covered_for_somebody_else(unused_page, reporter, live_server):
    sign_in(unused_page.context, reporter, live_server.url)

    unused_page.get_by_role("button", name="Go on").click()

    expect(unused_page.get_by_role("alert")).to_contain_text("Somebody else is signed in now")
    expect(unused_page.locator("main")).to_be_hidden()


def test_a_covered_page_stays_covered_while_nobody_is_signed_in(unused_page):
    unused_page.context.clear_cookies()

    unused_page.get_by_role("button", name="Go on").click()

    expect(unused_page.get_by_role("alert")).to_contain_text("You are not signed in yet")


def test_the_cover_is_accessible(unused_page, accessible):
    expect(unused_page.get_by_role("dialog")).to_be_visible()

    assert accessible(unused_page) == []


def test_one_signs_in_by_keyboard_alone(page_as, administrator, accessible):
    administrator.user.set_password(PASSWORD)
    administrator.user.save()
    page = page_as(None, width=390)
    page.goto("/people/clinic/")
    assert accessible(page) == []

    page.get_by_label("Email").focus()
    page.keyboard.type(administrator.user.email)
    page.keyboard.press("Tab")
    page.keyboard.type(PASSWORD)
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", level=1)).to_have_text("Clinic settings: Alder House")
