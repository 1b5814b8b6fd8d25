"""The Trace desk as hands and eyes meet it: six recordings judged by the keyboard alone; printed; blind."""

from decimal import Decimal

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from exams.traces.models import ReaderMark
from exams.visits.models import Reading
from exams.visits.wording import plain
from tests.build import ready_exam
from tests.traces.made import read_recording
from tests.traces.test_marks import moved

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


class Hands:
    """Fingers on the keyboard, nothing else: every key they press is counted."""

    def __init__(self, page):
        self.page = page
        self.strokes = 0

    def press(self, *keys: str):
        for key in keys:
            self.page.keyboard.press(key)
            self.strokes += 1

    def tab_to(self, wanted):
        while not wanted.evaluate("element => element === document.activeElement"):
            self.press("Tab")
            assert self.strokes < 100, "the keyboard never gets there"


def marks() -> list[tuple[str, str, str, str]]:
    return [
        (one.trace.site, one.verdict, plain(one.pressure_mmhg), one.reason)
        for one in ReaderMark.objects.order_by("pk").select_related("trace")
    ]


def plot(page):
    return page.get_by_role("slider", name="Return-of-flow mark")


def test_six_recordings_are_judged_by_the_keyboard_alone(page_as, measurer, exam, accessible):
    families = ("clean", "clean", "cold", "artefact_at_start", "artefact_at_start")
    for number, family in enumerate(families, start=1):
        read_recording(measurer, exam, site=f"toe_{number}", family=family)
    read_recording(measurer, exam, site="posterior_tibial", family="pulsation_clean", technique="doppler")
    page = page_as(measurer)
    hands = Hands(page)
    page.goto(reverse("traces:waiting"))
    hands.tab_to(page.get_by_role("link", name="Begin: RIGHT hallux"))
    hands.press("Enter")

    # A sure suggestion is accepted by one key.
    expect(plot(page)).to_be_focused()
    assert accessible(page) == []
    expect(plot(page)).to_have_attribute("aria-valuetext", "90 mmHg, as suggested")
    hands.press("a")

    # The next is looked at closely; the mark stays while the view moves, and moves by beat and by sample.
    expect(page.get_by_role("heading", name="Trace desk: RIGHT second toe")).to_be_visible()
    expect(page.get_by_text("Kept. RIGHT hallux: 90 mmHg, good, in the exam sheet.")).to_be_visible()
    expect(plot(page)).to_be_focused()
    hands.press("+", "PageDown", "0")
    expect(plot(page)).to_have_attribute("aria-valuetext", "90 mmHg, as suggested")
    hands.press("Shift+ArrowRight", "ArrowRight")
    expect(plot(page)).to_have_attribute("aria-valuetext", "85.5 mmHg, your mark")
    expect(page.locator('.trace-pressure [data-placed="yours"]')).to_contain_text("your mark 85.5")
    hands.press("a")

    # An unsure suggestion cannot be accepted; the desk says why, and a pressure is typed.
    expect(page.get_by_role("heading", name="Trace desk: RIGHT third toe")).to_be_visible()
    expect(plot(page)).to_be_focused()
    hands.press("a")
    expect(page.locator("#desk-shows")).to_contain_text("Confidence is low")
    hands.press("p", "9", "4", "Enter", "c")

    # A recording that cannot be trusted is refused with a reason of the list, or by the one that is likely.
    expect(page.get_by_role("heading", name="Trace desk: RIGHT fourth toe")).to_be_visible()
    expect(plot(page)).to_be_focused()
    hands.press("r")
    expect(page.get_by_role("radio", name="the foot or the cable moved")).to_be_focused()
    assert accessible(page) == []
    hands.press("Enter")
    expect(page.get_by_role("heading", name="Trace desk: RIGHT fifth toe")).to_be_visible()
    expect(plot(page)).to_be_focused()
    hands.press("u", "9")

    expect(page.get_by_role("heading", name="Trace desk: RIGHT posterior tibial")).to_be_visible()
    expect(plot(page)).to_be_focused()
    hands.press("a")
    expect(page.get_by_text("No recording waits for a verdict.")).to_be_visible()

    assert marks() == [
        ("toe_1", "good", "90", ""),
        ("toe_2", "good", "85.5", ""),
        ("toe_3", "caution", "94", ""),
        ("toe_4", "repeat", "", "the foot or the cable moved"),
        ("toe_5", "unreadable", "", "too much noise to see the rise"),
        ("posterior_tibial", "good", "91", ""),
    ]
    readings = Reading.objects.filter(exam=exam).order_by("pk")
    assert [one.pressure_mmhg for one in readings] == [Decimal(90), Decimal(86), Decimal(94), Decimal(91)]
    assert hands.strokes <= 40


def test_single_keys_do_nothing_outside_the_desk_or_once_switched_off(page_as, measurer, exam):
    read_recording(measurer, exam)
    page = page_as(measurer)
    page.goto(reverse("traces:waiting"))
    page.get_by_role("link", name="Begin").click()
    expect(plot(page)).to_be_focused()

    page.get_by_role("link", name="Exam sheet").focus()
    page.keyboard.press("a")
    page.get_by_text("Keys", exact=True).click()
    page.get_by_label("single keys are on").uncheck()
    plot(page).focus()
    page.keyboard.press("a")
    page.keyboard.press("ArrowRight")

    expect(plot(page)).to_have_attribute("aria-valuetext", "89.5 mmHg, your mark")
    assert marks() == []


def test_a_click_and_buttons_put_the_mark_too_and_paper_shows_both_figures(page_as, measurer, reporter, exam):
    trace = read_recording(measurer, exam)
    moved(trace, measurer, 84)
    page = page_as(reporter, width=390)
    page.goto(reverse("traces:desk", args=[trace.pk]))
    box = page.locator(".trace-pressure").bounding_box()

    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + 200)
    expect(page.get_by_label("Pressure of my mark, mmHg")).not_to_have_value("")
    page.get_by_role("button", name="as suggested").or_(
        page.get_by_role("button", name="S suggestion")
    ).click()
    page.get_by_role("button", name="−1 mmHg").click()
    expect(page.get_by_label("Pressure of my mark, mmHg")).to_have_value("89")

    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.emulate_media(media="print")
    expect(page.locator(".trace-pressure")).to_be_visible()
    expect(page.locator(".trace-strip")).to_be_visible()
    expect(page.locator("#verdict")).to_be_hidden()
