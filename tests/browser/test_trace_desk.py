"""The Trace desk as hands and eyes meet it: six recordings by keyboard alone, a closer look, no script."""

import re

import pytest
from playwright.sync_api import expect

from exams.traces.models import ReaderMark
from tests.build import exam_with, ready_exam
from tests.traces.made import read_recording, unsure_recording
from tests.traces.test_marks import mark, standing

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


def plot(page):
    return page.get_by_role("slider", name="Return-of-flow mark")


def place(page) -> float:
    """Where the mark stands, in mmHg, as a screen reader is told."""
    return float(plot(page).get_attribute("aria-valuetext").partition(" ")[0])


def test_six_recordings_are_reviewed_by_keyboard_alone(page_as, measurer, exam):
    read_recording(measurer, exam)
    read_recording(measurer, exam, seed=5, attempt=2)
    unsure_recording(measurer, exam)
    read_recording(measurer, exam, family="leaking_occlusion", site="toe_3")
    read_recording(measurer, exam, family="artefact_at_start", site="toe_4")
    read_recording(measurer, exam, family="pulsation_clean", site="posterior_tibial", technique="doppler")
    page = page_as(measurer)
    keys = page.keyboard
    page.goto("/traces/waiting/")
    page.get_by_role("link", name="Begin: RIGHT hallux").press("Enter")

    # Sure: one key.
    expect(plot(page)).to_be_focused()
    expect(page.get_by_text("1 of 6")).to_be_visible()
    keys.press("a")
    expect(page.get_by_text("Kept. RIGHT hallux: 90 mmHg, good, in the exam sheet.")).to_be_visible()

    # A beat earlier, then a sample back, then whole mmHg.
    expect(page.get_by_role("heading", level=1)).to_have_text("Trace desk: RIGHT hallux, again")
    suggested = place(page)
    keys.press("Shift+ArrowLeft")
    assert place(page) > suggested + 1
    keys.press("ArrowRight")
    keys.press("ArrowDown")
    keys.press("ArrowDown")
    moved = place(page)
    assert moved == int(moved)
    keys.press("a")
    expect(page.get_by_text(f"RIGHT hallux, again: {moved:.0f} mmHg, good")).to_be_visible()
    expect(page.get_by_text("3 of 6")).to_be_visible()

    # Unsure: not by one key; typed, then kept.
    keys.press("a")
    expect(page.get_by_text("Confidence is low, so the suggestion is not taken over.").last).to_be_visible()
    keys.press("p")
    keys.type("84")
    keys.press("Enter")
    expect(plot(page)).to_be_focused()
    keys.press("c")
    expect(page.get_by_text("RIGHT second toe: 84 mmHg, usable with caution")).to_be_visible()

    # A leak: the likely reason is chosen already.
    keys.press("r")
    expect(page.get_by_role("radio", name="pulses while occluded: the cuff leaked")).to_be_focused()
    keys.press("Enter")
    expect(page.get_by_text("RIGHT third toe: repeat it, because: pulses while occluded")).to_be_visible()

    # Movement: a reason by its number; first looked past, and come back to by the list.
    keys.press("n")
    expect(page.get_by_role("heading", level=1)).to_have_text("Trace desk: RIGHT posterior tibial")
    keys.press("a")
    expect(page.get_by_role("heading", level=1)).to_have_text("Trace desk: RIGHT fourth toe")
    keys.press("u")
    keys.press("1")
    expect(page.get_by_text("No recording waits for a verdict.")).to_be_visible()

    assert standing(exam, "toe_1") == ["90", f"{moved:.0f}"]
    assert (standing(exam, "toe_2"), standing(exam, "toe_3"), standing(exam, "toe_4")) == (["84"], [], [])
    assert list(ReaderMark.objects.order_by("pk").values_list("verdict", "how")) == [
        ("good", "accepted"),
        ("good", "moved"),
        ("caution", "moved"),
        ("repeat", "none"),
        ("good", "accepted"),
        ("unreadable", "none"),
    ]
    assert ReaderMark.objects.filter(reason="the foot or the cable moved").count() == 1
    page.goto(f"/exams/{exam.pk}/")
    expect(page.locator('[id="right.toe_1.1"]')).to_have_value("90")


def test_looking_closer_keeps_the_mark_and_a_click_puts_it(page_as, measurer, exam):
    trace = read_recording(measurer, exam)
    page = page_as(measurer)
    page.goto(f"/traces/{trace.pk}/")
    ticks = page.locator(".trace-pressure .tick")
    whole = ticks.all_text_contents()

    # The second step may break off what the first has asked for: only an answer that came whole can be read.
    with page.expect_request_finished(lambda request: "/window/" in request.url) as finer:
        page.keyboard.press("+")
        page.keyboard.press("+")
    assert len(finer.value.response().json()["mmhg"]) <= 2000
    assert len(ticks.all_text_contents()) != len(whole)
    assert place(page) == 90
    expect(page.locator(".placed.suggested:not(.beyond)")).to_have_count(1)

    box = plot(page).bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.6, box["y"] + box["height"] / 2)
    assert 80 < place(page) < 90
    expect(page.locator(".placed.yours text")).to_contain_text("your mark 8")
    expect(page.get_by_role("button", name=re.compile("Good, at 8"))).to_be_visible()

    page.keyboard.press("0")
    page.keyboard.press("s")
    assert place(page) == 90
    expect(page.locator(".placed.yours")).to_be_hidden()


def test_single_keys_can_be_switched_off_and_do_nothing_while_words_are_typed(page_as, measurer, exam):
    trace = read_recording(measurer, exam)
    page = page_as(measurer)
    page.goto(f"/traces/{trace.pk}/")

    page.get_by_label("Why, or a remark").press_sequentially("a cure")
    page.keyboard.press("Enter")
    expect(plot(page)).to_be_focused()
    expect(page.get_by_label("Why, or a remark")).to_have_value("a cure")
    page.get_by_text("Keys", exact=True).click()
    page.get_by_label("single keys are on").uncheck()
    plot(page).focus()
    page.keyboard.press("a")
    page.reload()
    page.keyboard.press("a")

    expect(page.get_by_role("heading", level=1)).to_have_text("Trace desk: RIGHT hallux")
    assert not ReaderMark.objects.exists()


def test_a_recording_without_a_deflation_is_refused_by_keys_all_the_same(page_as, measurer, exam):
    trace = read_recording(measurer, exam, phases=())
    page = page_as(measurer)
    page.goto(f"/traces/{trace.pk}/")
    expect(page.get_by_role("button", name="Ask for a repeat")).to_be_focused()

    page.keyboard.press("u")
    page.keyboard.press("6")

    expect(page.get_by_text("No recording waits for a verdict.")).to_be_visible()
    assert ReaderMark.objects.get().reason == "no pulse: cold foot, or sensor off"


def test_the_pages_of_the_desk_pass_axe_fit_a_phone_and_print(page_as, accessible, measurer, reporter):
    exam = exam_with(measurer, arm_right=140, right_hallux=48)
    trace = read_recording(measurer, exam)
    read_recording(measurer, exam, attempt=2, seed=5)
    mark(trace, measurer)
    page = page_as(reporter)
    phone = page_as(reporter, width=390, color_scheme="dark")

    page.goto(f"/traces/{trace.pk}/")
    page.keyboard.press("r")
    assert accessible(page) == []
    for address in (f"/traces/{trace.pk}/", f"/traces/{trace.pk}/blind/", "/traces/waiting/"):
        phone.goto(address)
        assert phone.evaluate("document.documentElement.scrollWidth <= innerWidth")
        if address != f"/traces/{trace.pk}/":
            assert accessible(phone) == []
    # Whoever has marked it is told so, and there is nothing to press.
    mark(trace, reporter)
    page.goto(f"/traces/{trace.pk}/blind/")
    expect(page.get_by_text("must come from somebody who has not")).to_be_visible()
    page.goto(f"/traces/{trace.pk}/")
    page.emulate_media(media="print")
    for figure in (".trace-pressure", ".trace-strip"):
        expect(page.locator(figure)).to_be_visible()
    expect(page.locator("#verdict")).to_be_hidden()


def test_without_a_script_a_typed_pressure_and_a_button_do_the_same(page_as, measurer, exam):
    trace = read_recording(measurer, exam)
    page = page_as(measurer, java_script_enabled=False)
    page.goto(f"/traces/{trace.pk}/")

    expect(page.get_by_role("button", name="one beat earlier")).to_be_hidden()
    page.get_by_label("at", exact=True).check()
    page.get_by_label("Pressure of my mark, mmHg").fill("84")
    page.get_by_role("button", name="Usable with caution").click()

    expect(page.get_by_text("No recording waits for a verdict.")).to_be_visible()
    assert standing(exam) == ["84"]
