"""A hallux is amputated, and the next exam knows it: one journey in a real browser."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from access import clock
from tests.build import new_patient, ready_exam, whole_exam

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_hallux_amputated_then_next_exam(page_as, accessible, measurer):
    ivy = new_patient(measurer, given_name="Ivy", family_name="Sampleton")
    whole_exam(measurer, ivy, at=clock.now() - timedelta(days=800))
    page = page_as(measurer)

    # An impossible event is refused at its field; what was typed stays.
    page.goto(f"/patients/{ivy.pk}/facts/")
    page.get_by_role("radio", name="RIGHT").check()
    page.get_by_label("What", exact=True).select_option("amputation:toe:1")
    page.get_by_label("When, or since when").fill("2 Nov 1931")
    page.get_by_label("Who says so").fill("letter of the ward")
    page.get_by_label("Note").fill("healed well")
    page.get_by_role("button", name="Record this").click()
    expect(page.locator("#id_started_on_error")).to_contain_text("before this person was born")
    expect(page.get_by_label("Note")).to_have_value("healed well")
    assert accessible(page) == []

    page.get_by_label("When, or since when").fill("about 2025")
    page.get_by_role("button", name="Record this").click()
    right = page.get_by_role("region", name="RIGHT")
    expect(right).to_contain_text("Hallux amputated or absent")
    expect(right).to_contain_text("About 2025")

    # A better date is a correction: the first entry stays, struck through.
    right.get_by_role("link", name="Correct this entry").click()
    expect(page.get_by_label("When, or since when")).to_have_value("about 2025")
    page.get_by_label("When, or since when").fill("Mar 2026")
    page.get_by_label("Why it is corrected").fill("the letter came")
    page.get_by_role("button", name="Save the correction").click()
    expect(right).to_contain_text("Mar 2026")
    expect(right.locator("s")).to_contain_text("about 2025")

    exam = ready_exam(measurer, ivy)
    page.goto(f"/exams/{exam.pk}/")
    toes = page.get_by_role("group", name="RIGHT toes")
    expect(toes).to_contain_text("Not offered, no longer there: hallux: RIGHT hallux amputation, Mar 2026")
    expect(page.locator("[data-field='right.toe_1.1']")).to_have_count(0)
    second = page.locator("[id='right.toe_2.1']")
    second.fill("52")
    second.press("Enter")
    expect(page.locator("[data-field='right.toe_2.1'] [data-part=state]")).to_contain_text("saved")

    # The other hallux was 108: what is typed is set against it at once, and after the page is loaded anew.
    left, stands = page.locator("[id='left.toe_1.1']"), page.locator("[id='left.toe_1.1:stands']")
    expect(stands).to_have_text("Expected today: 82–134 mmHg if nothing has changed.")
    left.press_sequentially("60")
    expect(stands).to_have_text("Below 82–134, the range expected if nothing has changed.")
    left.fill("100")
    expect(stands).to_contain_text("Inside 82–134")
    left.press("Enter")
    expect(page.locator("[data-field='left.toe_1.1'] [data-part=state]")).to_contain_text("saved")
    page.reload()
    expect(stands).to_contain_text("Inside 82–134")
    expect(page.locator("figure, .ladder").first).to_contain_text("amputated")
    assert accessible(page) == []
