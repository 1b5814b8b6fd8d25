"""The exam sheet without a connection, a sign-in, or alone: what was typed waits, and nothing is lost."""

import pytest
from playwright.sync_api import expect

from exams.visits.models import Reading
from tests.browser.conftest import sign_in
from tests.browser.sheet import (
    Hands,
    said,
    standing,
    type_into,
    typed,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_values_typed_without_a_connection_wait_and_are_sent_in_order_when_it_returns(
    page_as, measurer, resting
):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.arm.1").focus()
    page.context.set_offline(True)

    Hands(page).enter("138", "132", "150")
    expect(page.locator("#way")).to_have_text(
        "No connection. 3 values wait in this browser; they are sent when it returns.", use_inner_text=True
    )
    expect(said(page, "right.arm.1")).to_have_text("waiting")
    assert standing(resting) == {}
    page.context.set_offline(False)
    expect(said(page, "right.posterior_tibial.1")).to_contain_text("saved")

    expect(page.locator("#way")).to_be_hidden()
    assert standing(resting) == {"right.arm.1": "138", "left.arm.1": "132", "right.posterior_tibial.1": "150"}
    first, second, third = Reading.objects.filter(exam=resting).order_by("pk")
    assert first.typed_at <= second.typed_at <= third.typed_at <= first.entered_at


def test_what_waits_survives_closing_the_page_and_cannot_be_read_in_the_browsers_storage(
    page_as, measurer, resting
):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    page.context.route("**/save/", lambda route: route.abort())
    type_into(page, "right.arm.1", "138")
    expect(said(page, "right.arm.1")).to_have_text("waiting")

    stored = stored_rows(page)
    page.close()
    page.context.unroute("**/save/")
    again = page.context.new_page()
    again.goto(f"/exams/{resting.pk}/")
    expect(said(again, "right.arm.1")).to_contain_text("saved")

    assert [sorted(row) for row in stored] == [["droppedAfter", "exam", "nonce", "person", "sealed"]]
    assert not any("138" in row["sealed"] or "arm" in row["sealed"] for row in stored)
    assert standing(resting) == {"right.arm.1": "138"}
    assert stored_rows(again) == []


def test_what_waits_is_never_sent_under_another_sign_in(page_as, measurer, reporter, resting, live_server):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    page.context.set_offline(True)
    type_into(page, "right.arm.1", "138")
    expect(said(page, "right.arm.1")).to_have_text("waiting")
    sign_in(page.context, reporter, live_server.url)
    page.context.set_offline(False)

    expect(page.locator("#way")).to_contain_text("Your sign-in has ended. 1 value waits")
    other = page.context.new_page()
    other.goto(f"/exams/{resting.pk}/")

    expect(typed(other, "right.arm.1")).to_have_value("")
    assert standing(resting) == {}


def test_signing_out_asks_first_and_then_deletes_what_waits(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    page.context.route("**/save/", lambda route: route.abort())
    type_into(page, "right.arm.1", "138")
    expect(said(page, "right.arm.1")).to_have_text("waiting")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.accept()))

    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("button", name="Sign in", exact=True)).to_be_visible()

    assert asked[0].startswith("1 value has not been sent yet.")
    assert stored_rows(page) == []


def test_an_expired_sign_in_is_said_in_place_and_nothing_typed_is_lost(
    page_as, measurer, resting, live_server
):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    page.context.clear_cookies(name="sessionid")

    type_into(page, "right.arm.1", "138")
    expect(page.locator("#way")).to_contain_text("Your sign-in has ended. 1 value waits in this browser.")
    expect(page.get_by_role("link", name="Sign in again in a new tab")).to_be_visible()
    expect(typed(page, "right.arm.1")).to_have_value("138")
    sign_in(page.context, measurer, live_server.url)
    page.get_by_role("button", name="I have signed in").click()
    expect(said(page, "right.arm.1")).to_contain_text("saved")

    assert standing(resting) == {"right.arm.1": "138"}


def test_a_value_someone_else_entered_meanwhile_stands_beside_the_typed_one(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    colleague = page_as(measurer)
    colleague.goto(f"/exams/{resting.pk}/")
    type_into(colleague, "right.arm.1", "142")
    expect(said(colleague, "right.arm.1")).to_contain_text("saved")

    type_into(page, "right.arm.1", "138")
    expect(said(page, "right.arm.1", "clash")).to_contain_text(
        "entered 142 mmHg here meanwhile; you typed 138"
    )
    assert standing(resting) == {"right.arm.1": "142"}
    page.get_by_role("button", name="Put 138").click()
    expect(said(page, "right.arm.1")).to_contain_text("saved")

    assert standing(resting) == {"right.arm.1": "138"}


def stored_rows(page) -> list[dict]:
    """What a curious eye finds in the browser's own storage."""
    return page.evaluate(
        """() => new Promise((resolve) => {
          const opening = indexedDB.open("vaslab-waiting", 1);
          opening.onupgradeneeded = () => opening.result.createObjectStore("values", { autoIncrement: true });
          opening.onsuccess = () => {
            const asking = opening.result.transaction("values").objectStore("values").getAll();
            asking.onsuccess = () => {
              opening.result.close();
              resolve(asking.result.map((row) => ({
                ...row, nonce: "", sealed: new TextDecoder("latin1").decode(row.sealed),
              })));
            };
          };
        })"""
    )
