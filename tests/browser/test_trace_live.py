"""A nurse watches a recording arrive: it grows by itself, says what happens, and stops when it is over."""

import numpy as np
import pytest
from django.urls import reverse
from playwright.sync_api import expect

from exams.hemodynamics import simulate_trace
from exams.traces.services import growing
from exams.traces.services.growing import Samples
from exams.traces.services.sending import Said
from tests.build import ready_exam
from tests.traces.sending import PLACE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def device(measurer, gateway):
    """A device at the bedside that sends the next part of a hallux of 90 mmHg, and the end of it."""
    return Device(ready_exam(measurer), gateway)


class Device:
    def __init__(self, exam, by):
        self.by, self.sent = by, 0
        self.trace, _ = growing.begin_trace(exam=exam, said=Said(**PLACE), key="recording-1", by=by)
        self.made = simulate_trace(seed=3, sampling_hz=50.0)
        self.at = 0

    def send_until_cuff(self, mmhg):
        made, top = self.made, int(np.argmax(self.made.cuff_mmhg))
        end = top + int(np.argmax(made.cuff_mmhg[top:] <= mmhg))
        part = slice(self.at, end)
        self.at, self.sent = end, self.sent + 1
        samples = Samples(made.time_s[part], made.cuff_mmhg[part], made.signal[part])
        growing.add_piece(trace=self.trace, number=self.sent, samples=samples, by=self.by)

    def finish(self):
        growing.finish_trace(trace=self.trace, pieces=self.sent, by=self.by)


def test_a_recording_grows_before_the_eyes_and_says_when_it_is_enough(page_as, measurer, device, accessible):
    page = page_as(measurer)
    page.goto(reverse("traces:live", args=[device.trace.pk]))
    lead, said = page.locator("#live .lead"), page.locator("#live-said")
    expect(lead).to_contain_text("Begun; nothing has arrived yet")

    device.send_until_cuff(95)
    expect(lead).to_contain_text("Occluded, deflating: 95 mmHg")
    expect(said).to_have_text("occluded, deflating: 95 mmHg")

    device.send_until_cuff(58)
    expect(page.locator("#live .enough")).to_contain_text("Enough: ")
    expect(said).to_have_text("Enough recorded.")
    assert page.locator("#live circle.beat").count() > 5
    assert accessible(page) == []

    device.finish()
    expect(page.get_by_role("link", name="Read it at the Trace desk")).to_be_visible()
    assert page.locator("[hx-get*='live/part']").count() == 0


def test_without_a_script_the_page_reloads_itself(page_as, measurer, device):
    page = page_as(measurer, width=390, java_script_enabled=False)
    page.goto(reverse("traces:live", args=[device.trace.pk]))

    device.send_until_cuff(95)

    expect(page.locator("#live .lead")).to_contain_text("Occluded, deflating: 95 mmHg")
    assert page.url.endswith(reverse("traces:live_part", args=[device.trace.pk]))
