"""Two records of one person are merged, and parted again: one journey in a real browser."""

import pytest
from playwright.sync_api import expect

from tests.build import booked_exam, whole_exam
from tests.identity.make import two_records

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_merge_and_undo(page_as, accessible, measurer, reporter):
    iris, iriss = two_records(measurer)
    whole_exam(measurer, iriss)
    page = page_as(reporter)

    page.goto("/patients/")
    page.get_by_role("link", name="Perhaps the same person").click()
    expect(page.get_by_role("row")).to_contain_text(
        ["One record", "a name one slip away; the same birth date"]
    )
    assert accessible(page) == []
    page.get_by_role("link", name="Compare").click()

    # An undecided difference is refused at its place; what was decided and typed stays.
    page.get_by_label("Why you are sure").fill("same card, same birth date")
    page.get_by_role("button", name=f"Merge into record {iris.pk}").click()
    expect(page.get_by_role("row", name="Given name")).to_contain_text("Choose which is right")
    expect(page.get_by_label("Why you are sure")).to_have_value("same card, same birth date")
    assert accessible(page) == []
    page.get_by_role("radio", name="Iris", exact=True).check()
    page.get_by_role("button", name=f"Merge into record {iris.pk}").click()
    expect(page.get_by_role("heading", name="Two records made one")).to_be_visible()
    expect(page.locator("s")).to_have_text(["Iriss", "nothing"])

    # The merged record leads on, and its exam stands here.
    page.goto(f"/patients/{iriss.pk}/facts/")
    expect(page.get_by_text("was merged into this one, which")).to_be_visible()
    page.get_by_role("link", name="What was decided, and undoing it").click()

    later = booked_exam(measurer, iris)
    page.reload()
    page.get_by_label("Why they are parted again").fill("twins")
    page.get_by_role("button", name="Undo the merge").click()
    expect(page.get_by_text("This was recorded after the merge")).to_be_visible()
    assert accessible(page) == []
    page.get_by_role("radio", name=f"belongs to Iriss Fenwick-Sample, record {iriss.pk}").check()
    page.get_by_role("button", name="Undo the merge").click()
    expect(page.get_by_role("heading", name="Merge undone")).to_be_visible()
    later.refresh_from_db()
    assert later.patient == iriss
