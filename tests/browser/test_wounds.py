"""A nurse records a wound on a telephone, traces it, and reads the outlook: one journey in a real browser."""

import pytest
from playwright.sync_api import expect

from exams.wounds.models import Assessment
from tests.build import new_patient, whole_exam
from tests.wounds.make import photograph

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_wound_recorded_on_a_telephone_traced_and_its_outlook_read(
    page_as, accessible, wound_nurse, measurer
):
    ivy = new_patient(measurer, given_name="Ivy", family_name="Sampleton", diabetes="yes")
    exam = whole_exam(measurer, ivy, right_hallux=24)
    page = page_as(wound_nurse, width=390, height=844)

    page.goto(f"/wounds/{ivy.pk}/")
    assert accessible(page) == []
    page.get_by_role("link", name="Record a wound").click()

    # A tap on the map chooses in the list and leaves what is typed; every place is wide enough for a thumb.
    page.get_by_label("Wound since").fill("about 2026")
    hallux = page.locator("a[data-place='right:toe_1_sole']")
    assert hallux.bounding_box()["width"] >= 44
    hallux.click()
    expect(page.get_by_label("Where")).to_have_value("right:toe_1_sole")
    expect(page.get_by_label("Wound since")).to_have_value("about 2026")
    expect(hallux.locator("rect")).to_have_class("map-field map-chosen")
    assert accessible(page) == []
    page.get_by_label("Cause").select_option("neuropathic")
    page.get_by_role("button", name="Record the wound").click()

    page.get_by_label("Length, mm").fill("20")
    page.get_by_label("Width, mm").fill("12")
    page.get_by_label("Photograph").set_input_files(
        {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": photograph(800, 600)}
    )
    for group, answer in (
        ("Deepest layer", "into the fat under the skin"),
        ("Extensive", "no"),
        ("Dead tissue", "none"),
    ):
        page.get_by_role("group", name=group).get_by_label(answer, exact=True).check()
    page.get_by_role("button", name="Record the assessment").click()
    # What was left out is named at its place, and the photograph is kept although the browser lost the file.
    expect(page.locator("#id_infection_looked_error")).to_contain_text("“not looked” is an answer")
    expect(page.get_by_text("A photograph is kept with this assessment")).to_be_visible()
    assert accessible(page) == []
    page.get_by_label("looked: no sign of infection").check()
    page.get_by_label("Offloading").select_option("removable")
    page.get_by_role("button", name="Record the assessment").click()

    page.get_by_role("link", name="Trace the area on its photograph").click()
    picture = page.locator(".trace-picture svg")
    expect(page.get_by_role("status")).to_contain_text("0 of 2 ends")
    for x, y in ((20, 20), (120, 20), (50, 50), (150, 50), (150, 150), (50, 150)):
        picture.click(position={"x": x, "y": y})
    expect(page.get_by_role("status").filter(has_text="Scale marked. 4 points")).to_be_visible()
    # A fifth by keyboard, inside the square, and taken back again.
    picture.press("ArrowLeft")
    picture.press("Enter")
    expect(page.get_by_role("status").filter(has_text="Scale marked. 5 points")).to_be_visible()
    picture.press("Backspace")
    expect(page.get_by_role("status").filter(has_text="Scale marked. 4 points")).to_be_visible()
    page.get_by_label("Length between the two ends, mm").fill("20")
    assert accessible(page) == []
    page.get_by_role("button", name="Record the area").click()
    expect(page.get_by_role("status").first).to_contain_text("The area is recorded")
    # A square as wide as the scale of 20 mm, to the nearest pixel of the screen.
    assert abs(Assessment.objects.get(replaced_by=None).area_mm2 - 400) <= 12
    assert accessible(page) == []

    page.get_by_role("link", name="Healing outlook of the RIGHT foot").click()
    answer = page.locator(".act-now")
    expect(answer).to_contain_text("unlikely to heal without more blood flow")
    expect(answer).to_contain_text("Call the vascular team and acute services at once")
    expect(page.get_by_text("Compression:")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert accessible(page) == []
    rule = page.get_by_role("row").filter(has_text="Toe pressure below 30")
    source = rule.locator("a[href^='#source-']").first
    leads_to = source.get_attribute("href")
    source.click()
    expect(page.locator(leads_to)).to_be_in_viewport()
    page.get_by_role("link", name=f"{exam.booked_for:%-d %b %Y}").first.click()
    page.wait_for_url(f"**/exams/{exam.pk}/")
