"""One key hides the record at the bedside; what was typed and the clocks stay, for the same person."""

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import sign_in
from tests.browser.sheet import typed
from tests.browser.test_passkeys import with_device

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "a walk along the quiet fen"


@pytest.fixture
def sheet(page_as, measurer, resting):
    """The sheet of a resting patient, a value just typed and not yet left, and then the key."""
    measurer.user.set_password(PASSWORD)
    measurer.user.save()
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.arm.1").focus()
    page.keyboard.type("142")
    return page


def test_the_key_hides_the_record_and_the_password_brings_back_what_was_typed(sheet, resting, accessible):
    sheet.keyboard.press("Alt+l")

    expect(sheet.get_by_role("dialog", name="Locked")).to_be_visible()
    expect(sheet.locator("main")).to_be_hidden()
    expect(sheet).to_have_title("Locked · vaslab")
    assert accessible(sheet) == []
    sheet.keyboard.press("Escape")
    sheet.get_by_label("Your password, or the six digits").fill("not the password")
    sheet.keyboard.press("Enter")
    expect(sheet.get_by_role("alert")).to_contain_text("neither your password nor your code")
    expect(sheet.locator("main")).to_be_hidden()

    sheet.get_by_label("Your password, or the six digits").fill(PASSWORD)
    sheet.keyboard.press("Enter")

    expect(sheet.locator("main")).to_be_visible()
    expect(typed(sheet, "right.arm.1")).to_have_value("142")
    expect(sheet.locator("#rest-clock [data-watch]")).to_contain_text("11:")
    sheet.reload()
    expect(typed(sheet, "right.arm.1")).to_have_value("142")


def test_what_was_typed_is_taken_before_the_service_locks_however_slow_it_is(page_as, measurer, resting):
    page = page_as(measurer)
    held, locks = [], []
    page.route("**/people/queue-key/", lambda route: held.append(route))
    page.on("request", lambda request: locks.extend([request] if "/people/lock/" in request.url else []))
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.arm.1").focus()
    page.keyboard.type("142")
    page.keyboard.press("Alt+l")
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    assert (len(held), locks) == (1, [])

    with page.expect_response("**/people/lock/") as locked, page.expect_response("**/save/") as saved:
        held[0].continue_()

    assert (saved.value.status, locked.value.status) == (200, 200)


def test_a_locked_page_loaded_again_or_in_another_tab_shows_no_record(sheet, resting):
    other = sheet.context.new_page()
    other.goto(f"/exams/{resting.pk}/")
    with sheet.expect_response("**/people/lock/"):
        sheet.get_by_role("button", name="Lock", exact=True).click()

    expect(other.get_by_role("dialog", name="Locked")).to_be_visible()
    other.reload()
    expect(other.get_by_role("heading", level=1)).to_have_text("Locked by Mina Measurer")
    other.get_by_label("Your password, or the six digits").fill(PASSWORD)
    other.keyboard.press("Enter")

    expect(other.locator("#sheet")).to_be_visible()


def test_another_person_signs_in_and_the_locked_page_stays_shut(sheet, reporter, live_server):
    with sheet.expect_response("**/people/lock/"):
        sheet.keyboard.press("Alt+l")
    expect(sheet.get_by_role("link", name="Sign in as somebody else")).to_be_visible()
    sign_in(sheet.context, reporter, live_server.url)

    sheet.get_by_label("Your password, or the six digits").fill(PASSWORD)
    sheet.keyboard.press("Enter")

    expect(sheet.get_by_role("alert")).to_contain_text("neither your password nor your code")
    expect(sheet.locator("main")).to_be_hidden()


def test_a_passkey_unlocks_by_a_touch(sheet):
    with_device(sheet)
    sheet.goto("/accounts/2fa/webauthn/add/")
    sheet.get_by_role("button", name="Make a passkey").click()
    expect(sheet.get_by_role("heading", level=1)).to_contain_text("ecovery codes")
    sheet.wait_for_load_state("load")
    sheet.keyboard.press("Alt+l")

    sheet.get_by_role("button", name="Use a passkey").click()

    expect(sheet.get_by_role("dialog")).to_be_hidden()
    expect(sheet.locator("main")).to_be_visible()
