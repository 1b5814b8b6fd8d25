"""A recording while it arrives: what is happening, whether it is enough, and what a silent device leaves."""

from datetime import timedelta
from functools import cache

import numpy as np
import pytest
from django.urls import reverse

from access import clock
from access.middleware import LAST_SEEN_AT
from access.models import TrailRow
from exams.hemodynamics import SimulatedTrace, simulate_trace
from exams.traces.models import Trace
from exams.traces.queries.live import growing_of, live_of
from exams.traces.services import growing
from exams.traces.services.growing import Samples
from exams.traces.services.sending import Said
from tests.build import ready_exam
from tests.traces.sending import PLACE

POLL = {"HX-Request": "true"}


@cache
def toe() -> SimulatedTrace:
    """A clean hallux with a systolic of 90 mmHg."""
    return simulate_trace(seed=3, sampling_hz=50.0)


def until_cuff(mmhg: float) -> float:
    """The second in which the falling cuff of that recording passes this pressure."""
    made = toe()
    top = int(np.argmax(made.cuff_mmhg))
    return float(made.time_s[top + int(np.argmax(made.cuff_mmhg[top:] <= mmhg))])


@pytest.fixture
def trace(measurer, gateway) -> Trace:
    begun, _ = growing.begin_trace(
        exam=ready_exam(measurer), said=Said(**PLACE), key="recording-1", by=gateway
    )
    return begun


@pytest.fixture
def sent(trace, gateway):
    """``sent(20.5)``: the device has sent so many seconds of the recording, in one piece."""

    def send(seconds: float, number: int = 1, since: float = 0.0) -> Trace:
        made = toe()
        part = (made.time_s >= since) & (made.time_s < seconds)
        samples = Samples(made.time_s[part], made.cuff_mmhg[part], made.signal[part])
        growing.add_piece(trace=trace, number=number, samples=samples, by=gateway)
        return trace

    return send


def page(trace):
    return reverse("traces:live", args=[trace.pk])


def part(trace, **seen):
    return reverse("traces:live_part", args=[trace.pk], query=seen)


def test_before_anything_came_it_says_so(trace):
    assert live_of(trace).phase_words == "begun; nothing has arrived yet"


def test_each_phase_is_named_with_the_pressure_of_this_moment(sent):
    trace = sent(until_cuff(95))

    live = live_of(trace)

    assert (live.phase, live.phase_words) == ("occluded", "occluded, deflating: 95 mmHg")
    assert not live.enough


@pytest.mark.parametrize(("seconds", "phase"), [(3, "rest"), (9.5, "inflation"), (14, "held")])
def test_before_the_cuff_falls_its_pressure_says_what_happens(sent, seconds, phase):
    assert live_of(sent(seconds)).phase == phase


def test_the_reader_says_when_enough_is_recorded(sent):
    live = live_of(sent(until_cuff(58)))

    assert (live.phase, live.enough) == ("return", True)
    assert live.enough_words.startswith("Enough: ")


def test_what_is_drawn_stands_at_its_pressure_and_never_moves_sideways(sent):
    ticks = live_of(sent(until_cuff(95))).pressure.ticks
    later = live_of(sent(until_cuff(58), number=2, since=until_cuff(95))).pressure

    assert later.ticks == ticks
    assert (ticks[-1].words, ticks[-1].percent) == ("0", 100.0)
    assert later.dots[-1].x > 40


def test_however_long_it_is_it_is_drawn_from_few_points(trace, gateway):
    time_s = np.arange(0, 1700, 0.02)
    long = Samples(time_s, 140 - time_s / 17, np.sin(time_s))
    growing.add_piece(trace=trace, number=1, samples=long, by=gateway)

    assert live_of(trace).strip.signal.count("L") < 600


def test_missing_samples_leave_a_gap_in_the_line(trace, gateway):
    time_s = np.arange(0, 4, 0.02)
    signal = np.where((time_s > 1) & (time_s < 2), np.nan, np.sin(time_s))
    growing.add_piece(trace=trace, number=1, samples=Samples(time_s, 140 - time_s, signal), by=gateway)

    assert live_of(trace).strip.signal.count("M") == 2


def test_a_recording_of_nothing_but_missing_values_is_drawn_as_nothing(trace, gateway):
    time_s = np.arange(0, 4, 0.02)
    nothing = Samples(time_s, np.full(200, np.nan), np.full(200, np.nan))
    growing.add_piece(trace=trace, number=1, samples=nothing, by=gateway)

    live = live_of(trace)

    assert (live.phase, live.strip.signal, live.strip.cuff) == ("no_pressure", "", "")


def test_the_page_leaves_one_line_and_its_polls_none(trace, client_as, reporter):
    client = client_as(reporter)
    client.get(page(trace))
    client.get(part(trace), headers=POLL)
    client.get(part(trace))

    lines = TrailRow.objects.filter(user=reporter.user).values_list("action", "patient_id")
    assert list(lines) == [("arriving trace viewed", trace.exam.patient_id)]


def test_a_poll_that_finds_nothing_new_answers_with_nothing(sent, client_as, measurer):
    trace = sent(5)
    client = client_as(measurer)
    seen = live_of(trace).seen

    assert client.get(part(trace, seen=seen), headers=POLL).status_code == 204
    sent(6, number=2, since=5)
    assert client.get(part(trace, seen=seen), headers=POLL).status_code == 200


def test_polls_do_not_keep_a_sign_in_alive(trace, client_as, measurer):
    client = client_as(measurer)
    before = client.session[LAST_SEEN_AT]

    with clock.at(clock.now() + timedelta(minutes=5)):
        client.get(part(trace), headers=POLL)

    assert client.session[LAST_SEEN_AT] == before


def test_only_a_change_of_what_happens_is_read_aloud(sent, client_as, measurer):
    trace = sent(until_cuff(95))
    client = client_as(measurer)

    changed = client.get(part(trace, seen="old", stage="inflation"), headers=POLL)
    same = client.get(part(trace, seen="old", stage="occluded"), headers=POLL)

    assert (
        '<p id="live-said" hx-swap-oob="innerHTML">occluded, deflating: 95 mmHg</p>'
        in changed.content.decode()
    )
    assert "live-said" not in same.content.decode()


def test_without_a_script_the_page_reloads_itself_quietly_and_names_nobody(trace, client_as, measurer):
    client = client_as(measurer)

    first, again = (client.get(one).content.decode() for one in (page(trace), part(trace)))

    reload = f'<meta http-equiv="refresh" content="2; url={part(trace)}">'
    assert reload in first
    assert reload in again
    name = trace.exam.patient.family_name
    assert (name in first, name in again) == (True, False)


def test_once_finished_it_leads_to_the_trace_desk_and_asks_no_more(sent, gateway, client_as, measurer):
    trace = sent(until_cuff(58))
    growing.finish_trace(trace=trace, pieces=1, by=gateway)

    shown = client_as(measurer).get(page(trace)).content.decode()

    assert reverse("traces:desk", args=[trace.pk]) in shown
    assert "every 1s" not in shown
    assert "http-equiv" not in shown


def test_a_device_that_fell_silent_is_shown_at_once_and_left_after_ten_minutes(sent):
    trace = sent(5)

    with clock.at(clock.now() + timedelta(seconds=6)):
        assert live_of(trace).stage_words == "Nothing new arrives."
    with clock.at(clock.now() + timedelta(minutes=11)):
        assert live_of(trace).left
        assert [one.left for one in growing_of(trace.exam_id)] == [True]


def test_what_a_device_left_is_finished_by_a_measurer_on_the_page(sent, client_as, measurer, reporter):
    trace = sent(5)
    finish = "<button>Finish with what has arrived</button>"

    assert client_as(measurer).post(page(trace)).status_code == 422
    with clock.at(clock.now() + timedelta(minutes=11)):
        assert finish not in client_as(reporter).get(page(trace)).content.decode()
        assert finish in client_as(measurer).get(page(trace)).content.decode()
        answer = client_as(measurer).post(page(trace), follow=True)

    assert "Finished with what had arrived" in answer.content.decode()
    assert Trace.objects.get().state == "waiting"


def test_a_piece_that_is_missing_is_named(sent):
    trace = sent(5, number=2)

    assert live_of(trace).missing == (1,)


def test_the_exam_lists_what_is_arriving(trace):
    assert [(one.trace_id, one.place, one.left) for one in growing_of(trace.exam_id)] == [
        (trace.pk, "RIGHT hallux", False)
    ]


def test_a_recording_of_another_clinic_is_not_there(trace, client_as, outsider):
    assert client_as(outsider).get(part(trace), headers=POLL).status_code == 404
