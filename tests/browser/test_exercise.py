"""An exercise test entered by keyboard: one journey in a real browser."""

import pytest
from playwright.sync_api import expect

from tests.build import exam_with, new_patient

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_an_exercise_test_is_entered_by_keyboard(page_as, accessible, measurer):
    """Worked case 21: 132 over 130 at rest, 104 over 140 a minute after."""
    ivy = new_patient(measurer, given_name="Ivy", family_name="Sampleton")
    exam = exam_with(measurer, ivy, arm_right=130, right_posterior_tibial=132, left_posterior_tibial=134)
    page = page_as(measurer)
    page.goto(f"/exams/{exam.pk}/")
    page.get_by_text("More tests", exact=True).click()
    page.get_by_role("link", name="After exercise").click()
    expect(page.get_by_text("At rest, RIGHT posterior tibial 132 mmHg, RIGHT arm 130 mmHg")).to_be_visible()

    # The first empty field has the focus; Enter leads through all of them, in the order of the couch.
    expect(page.get_by_role("combobox", name="What was done")).to_be_focused()
    keys = page.keyboard
    for typed in ("1", "3.2", "12", "3.5", "2", "calf pain", "2", "1", "140", "104", "130", "0.5"):
        keys.type(typed)
        keys.press("Enter")

    # Times out of order are refused at their field; what was typed stays in it.
    second = page.locator("[data-field='after.2.time']")
    expect(second.locator("[data-part=error]")).to_contain_text("the times must rise")
    assert accessible(page) == []
    second.get_by_role("textbox").fill("5")
    second.get_by_role("textbox").press("Enter")
    for typed in ("130", "132", "134"):
        keys.type(typed)
        keys.press("Enter")
    expect(second.locator("[data-part=shown]")).to_have_text("5 min")

    spot = page.locator("#spot")
    expect(spot).to_contain_text("RIGHT exercise test positive: index down 26.8 %")
    expect(spot).to_contain_text("AHA12")
    expect(page.locator("[data-field='after.2.left'] [data-part=state]")).to_contain_text("saved")

    # Everything stands after a reload, and on the exam sheet.
    page.reload()
    expect(page.locator("[id='after.1.right']")).to_have_value("104")
    page.get_by_role("link", name="Back to the exam sheet").click()
    more = page.get_by_role("region", name="More tests of this exam")
    expect(more).to_contain_text("time since the end 1 min, arm 140 mmHg, RIGHT ankle 104 mmHg")
    expect(page.locator("#spot")).to_contain_text("RIGHT exercise test positive")
    assert accessible(page) == []
