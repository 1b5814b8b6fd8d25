"""Recordings dropped on the page of an exam, in a real browser, by keyboard where there is a choice."""

import pytest
from playwright.sync_api import expect

from exams.traces.models import Trace
from tests.build import ready_exam
from tests.traces.test_receiving import SHORT, other_file

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DROP = """(files) => {
  const carried = new DataTransfer();
  for (const [name, text] of files) carried.items.add(new File([text], name));
  for (const type of ["dragenter", "dragover", "drop"])
    document.body.dispatchEvent(
      new DragEvent(type, { dataTransfer: carried, bubbles: true, cancelable: true }),
    );
}"""


def test_dropped_files_are_answered_one_by_one_and_lead_to_their_sites(page_as, measurer, accessible):
    exam = ready_exam(measurer)
    page = page_as(measurer)
    page.goto(f"/exams/{exam.pk}/")
    page.get_by_role("link", name="Recordings of this exam").click()
    page.wait_for_url(f"**/traces/exam/{exam.pk}/")
    page.wait_for_load_state("load")

    page.evaluate(
        DROP,
        [
            ["R hallux.csv", SHORT.decode()],
            ["the same.csv", SHORT.decode()],
            ["toe 2.csv", other_file(1).decode()],
        ],
    )

    sent = page.locator("#sent li")
    expect(sent.nth(0)).to_contain_text("kept")
    expect(sent.nth(1)).to_contain_text("This exam has the same recording already")
    expect(sent.nth(2)).to_contain_text("kept")
    assert accessible(page) == []
    page.get_by_role("link", name="Go on with what was kept").press("Enter")

    # The side its name does not say is asked for; the other one is right at once.
    page.get_by_label("Toes were recorded with").select_option("two_cuffs")
    unclear = page.get_by_role("group", name="toe 2.csv")
    assert unclear.get_by_label("Side").input_value() == ""
    page.get_by_role("button", name="Confirm").press("Enter")
    expect(unclear).to_contain_text("RIGHT or LEFT?")
    unclear.get_by_label("Side").select_option("left")
    page.get_by_role("button", name="Confirm").press("Enter")

    expect(page.locator("#traces")).to_contain_text("LEFT second toe")
    expect(page.locator("#traces")).to_contain_text("RIGHT hallux")
    places = Trace.objects.order_by("pk").values_list("side", "site", "state")
    assert list(places) == [("right", "toe_1", "waiting"), ("left", "toe_2", "waiting")]


def test_the_segments_of_one_recording_are_sent_together_and_kept_as_one(page_as, measurer):
    exam = ready_exam(measurer)
    page = page_as(measurer)
    page.goto(f"/traces/exam/{exam.pk}/")
    page.wait_for_load_state("load")
    samples = "".join(chr(100 - one) + chr(40 + one) for one in range(20))
    lines = "{0} 2 10 20\n{0}.dat 80 1(-128)/mmHg 8 0 0 0 0 Cuff\n{0}.dat 80 1/NU 8 0 0 0 0 PPG\n"

    page.evaluate(
        DROP,
        [
            ["a.hea", lines.format("a")],
            ["a.dat", samples],
            ["whole.hea", "whole/2 2 10 40\na 20\nb 20\n"],
            ["b.hea", lines.format("b")],
            ["b.dat", samples],
        ],
    )

    page.wait_for_url("**/match/**")
    assert Trace.objects.get().original_name == "whole.hea"


def test_without_a_script_the_form_sends_them_all_at_once(page_as, measurer):
    exam = ready_exam(measurer)
    page = page_as(measurer, java_script_enabled=False)
    page.goto(f"/traces/exam/{exam.pk}/")

    page.set_input_files("#files", [{"name": "L arm.csv", "mimeType": "text/csv", "buffer": SHORT}])
    page.get_by_role("button", name="Add these files").click()

    expect(page.get_by_role("group", name="L arm.csv").get_by_label("Site")).to_have_value("arm")
