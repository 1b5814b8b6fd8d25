"""A recording that a device sends, whole or in pieces: kept once, in order, and never half."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from access.refusals import Conflict, TooMuch, Unfit
from exams.traces.models import Trace, TracePiece
from exams.traces.queries.sending import pieces_there
from exams.traces.samples import unpack
from exams.traces.services import growing
from exams.traces.services.growing import Samples
from exams.traces.services.marks import mark_trace
from exams.traces.services.receiving import withdraw_trace
from exams.traces.services.sending import Said
from exams.visits.services import finish_measuring
from tests.build import WHOLE, booked_exam, exam_with, new_patient, ready_exam
from tests.patients.make import fact
from tests.traces.made import newest_analysis, read_recording
from tests.traces.sending import PLACE, piece, recording

HALLUX = Said(**PLACE)


def samples(of) -> Samples:
    return Samples(*(np.array(of[name]) for name in ("time_s", "cuff_mmhg", "signal")))


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def begun(exam, gateway) -> Trace:
    return growing.begin_trace(exam=exam, said=HALLUX, key="recording-1", by=gateway)[0]


def send(trace, *numbers, by):
    return [growing.add_piece(trace=trace, number=one, samples=samples(piece(one)), by=by) for one in numbers]


def test_pieces_in_any_order_make_the_recording_as_it_was_made(begun, gateway):
    send(begun, 2, 1, 3, by=gateway)

    growing.finish_trace(trace=begun, pieces=3, by=gateway)

    begun.refresh_from_db()
    time_s, cuff_mmhg, signal = unpack(bytes(begun.samples))
    expected = {name: piece(1)[name] + piece(2)[name] + piece(3)[name] for name in recording()}
    assert time_s.tolist() == expected["time_s"]
    assert cuff_mmhg.tolist() == expected["cuff_mmhg"]
    assert signal.tolist() == expected["signal"]
    assert (begun.state, begun.sample_count, begun.sampling_hz) == ("waiting", 150, 50.0)
    assert begun.job.kind == "Reading of a trace"


def test_a_whole_recording_keeps_what_pieces_of_it_would_have_kept(exam, begun, gateway):
    send(begun, 1, 2, by=gateway)
    growing.finish_trace(trace=begun, pieces=2, by=gateway)
    both = {name: piece(1)[name] + piece(2)[name] for name in recording()}

    whole, _ = growing.receive_whole(
        exam=exam, said=replace(HALLUX, side="left"), samples=samples(both), key="recording-2", by=gateway
    )

    begun.refresh_from_db()
    assert whole.samples_sha256 == begun.samples_sha256


def test_beginning_and_end_leave_a_line_that_names_the_device(begun, gateway, exam):
    send(begun, 1, by=gateway)
    growing.finish_trace(trace=begun, pieces=1, by=gateway)

    lines = TrailRow.objects.filter(subject_type="traces.trace").order_by("pk")
    assert [(line.action, line.user, line.role, line.patient_id) for line in lines] == [
        ("trace begun", gateway.user, "gateway", exam.patient_id),
        ("trace received", gateway.user, "gateway", exam.patient_id),
    ]


def test_a_piece_sent_again_is_the_same_piece(begun, gateway):
    assert send(begun, 1, 1, by=gateway) == [True, False]


def test_another_piece_under_the_same_number_is_refused_and_the_first_kept(begun, gateway):
    send(begun, 1, by=gateway)

    with pytest.raises(Conflict, match="came before, with other samples"):
        growing.add_piece(trace=begun, number=1, samples=samples(piece(2)), by=gateway)

    assert unpack(bytes(begun.pieces.get().samples))[0].tolist() == piece(1)["time_s"]


def test_what_is_missing_is_named_before_a_recording_is_finished(begun, gateway):
    send(begun, 1, 4, by=gateway)

    with pytest.raises(Conflict, match=r"Of 5 pieces 3 did not arrive: 2, 3, 5\."):
        growing.finish_trace(trace=begun, pieces=5, by=gateway)


def test_more_pieces_than_named_are_not_left_out_silently(begun, gateway):
    send(begun, 1, 2, by=gateway)

    with pytest.raises(Conflict, match="2 pieces arrived, more than the 1"):
        growing.finish_trace(trace=begun, pieces=1, by=gateway)


def test_the_end_said_twice_is_one_end(begun, gateway):
    send(begun, 1, by=gateway)

    ends = [growing.finish_trace(trace=begun, pieces=1, by=gateway) for _ in range(2)]

    assert ends == [True, False]
    assert TrailRow.objects.filter(action="trace received").count() == 1


def test_nothing_is_added_to_a_finished_recording(begun, gateway):
    send(begun, 1, by=gateway)
    growing.finish_trace(trace=begun, pieces=1, by=gateway)

    assert send(begun, 1, by=gateway) == [False]
    with pytest.raises(Conflict, match="finished"):
        send(begun, 2, by=gateway)


def test_a_piece_that_lies_before_the_one_before_it_is_refused(begun, gateway):
    send(begun, 2, by=gateway)

    with pytest.raises(Unfit, match="do not lie between"):
        growing.add_piece(trace=begun, number=3, samples=samples(piece(1)), by=gateway)
    with pytest.raises(Unfit, match="do not lie between"):
        growing.add_piece(trace=begun, number=1, samples=samples(piece(3)), by=gateway)


def test_a_recording_is_half_an_hour_at_most_whichever_piece_comes_last(begun, gateway):
    late = {**piece(2), "time_s": [at + 1800 for at in piece(2)["time_s"]]}
    growing.add_piece(trace=begun, number=2, samples=samples(late), by=gateway)

    with pytest.raises(TooMuch, match="30 minutes"):
        send(begun, 1, by=gateway)


def test_pieces_are_numbered_within_reason(begun, gateway):
    with pytest.raises(Unfit, match="numbered from 1"):
        growing.add_piece(trace=begun, number=3601, samples=samples(piece(1)), by=gateway)


def test_an_exam_that_is_over_takes_no_recording(measurer, gateway):
    exam = exam_with(measurer, **WHOLE)
    finish_measuring(exam=exam, by=measurer)

    with pytest.raises(Conflict, match="is measured"):
        growing.begin_trace(exam=exam, said=HALLUX, key="recording-1", by=gateway)


def test_an_exam_whose_person_is_not_yet_identified_takes_no_recording(measurer, gateway):
    with pytest.raises(Conflict, match="Confirm the person's identity first"):
        growing.begin_trace(exam=booked_exam(measurer), said=HALLUX, key="recording-1", by=gateway)


def test_a_site_that_was_not_planned_is_taken(measurer, gateway):
    exam = ready_exam(measurer, exam_type="toe_only")
    ankle = replace(HALLUX, site="dorsalis_pedis", technique="doppler")

    trace, _ = growing.begin_trace(exam=exam, said=ankle, key="recording-1", by=gateway)

    assert trace.kind == "pulsation"


def test_a_toe_on_record_as_amputated_is_refused_by_name(measurer, gateway):
    patient = new_patient(measurer)
    fact(measurer, patient, kind="amputation", level="toe", toe=1)

    with pytest.raises(Unfit, match="RIGHT hallux is on record as amputated"):
        growing.begin_trace(exam=ready_exam(measurer, patient), said=HALLUX, key="recording-1", by=gateway)


def test_a_technique_that_no_ankle_is_measured_with_is_refused(exam, gateway):
    with pytest.raises(Unfit, match="doppler, oscillometric"):
        growing.begin_trace(
            exam=exam, said=replace(HALLUX, site="dorsalis_pedis"), key="recording-1", by=gateway
        )


def test_without_an_attempt_the_next_free_one_is_taken(exam, begun, gateway):
    def repeat(key):
        return growing.begin_trace(exam=exam, said=replace(HALLUX, attempt=None), key=key, by=gateway)[0]

    assert [begun.attempt, repeat("recording-2").attempt, repeat("recording-3").attempt] == [1, 2, 3]
    with pytest.raises(Conflict, match="has 3 recordings"):
        repeat("recording-4")


def test_one_that_its_reader_asked_to_repeat_gives_its_attempt_to_the_repeat(exam, measurer, gateway):
    first = read_recording(measurer, exam)
    mark_trace(
        trace=first,
        analysis=newest_analysis(first),
        verdict="repeat",
        pressure_mmhg=None,
        time_s=None,
        how="none",
        reason="the foot moved",
        blind=False,
        by=measurer,
    )

    again, _ = growing.begin_trace(exam=exam, said=HALLUX, key="again", by=gateway)

    assert (again.attempt, first.attempt) == (1, 1)


def test_a_toe_recorded_by_doppler_does_not_refill(exam, gateway):
    said = replace(HALLUX, technique="doppler")

    trace, _ = growing.begin_trace(exam=exam, said=said, key="doppler", by=gateway)

    assert trace.kind == "pulsation"


def test_an_attempt_holds_one_recording(exam, begun, gateway):
    with pytest.raises(Conflict, match="Attempt 1 of RIGHT hallux has its recording"):
        growing.begin_trace(exam=exam, said=HALLUX, key="recording-2", by=gateway)


def test_nothing_more_is_taken_of_a_recording_that_a_person_withdrew(begun, gateway, measurer):
    send(begun, 1, by=gateway)
    withdraw_trace(trace=begun, because="wrong foot", by=measurer)

    with pytest.raises(Conflict, match="withdrawn by a person"):
        send(begun, 2, by=gateway)
    with pytest.raises(Conflict, match="withdrawn by a person"):
        growing.finish_trace(trace=begun, pieces=1, by=gateway)


def test_a_clock_that_runs_ahead_does_not_put_a_recording_into_the_future(exam, gateway):
    now = clock.now()
    ahead = replace(HALLUX, recorded_at=now + timedelta(hours=3))

    with clock.at(now):
        trace, _ = growing.begin_trace(exam=exam, said=ahead, key="recording-1", by=gateway)

    assert trace.recorded_at == now


def test_who_may_only_look_sends_nothing(exam, reporter):
    with pytest.raises(PermissionDenied):
        growing.begin_trace(exam=exam, said=HALLUX, key="recording-1", by=reporter)


def test_a_refused_recording_leaves_its_key_free(measurer, gateway):
    exam = booked_exam(measurer)
    with pytest.raises(Conflict):
        growing.begin_trace(exam=exam, said=HALLUX, key="recording-1", by=gateway)

    _, new = growing.begin_trace(exam=ready_exam(measurer), said=HALLUX, key="recording-1", by=gateway)

    assert new


def test_a_recording_left_by_its_device_is_finished_by_a_person_after_ten_minutes(begun, gateway, measurer):
    send(begun, 1, 3, by=gateway)

    with pytest.raises(ValidationError, match="within the last ten minutes"):
        growing.finish_left_trace(trace=begun, by=measurer)
    with clock.at(clock.now() + timedelta(minutes=11)):
        finished = growing.finish_left_trace(trace=begun, by=measurer)

    assert (finished.state, finished.sample_count) == ("waiting", 100)
    line = TrailRow.objects.get(action="trace left by its device finished")
    assert (line.user, line.details["missing"]) == (measurer.user, [2])


def test_a_recording_of_which_nothing_came_is_closed_with_words(begun, measurer):
    with clock.at(clock.now() + timedelta(minutes=11)):
        closed = growing.finish_left_trace(trace=begun, by=measurer)

    assert (closed.state, closed.problem.split(".")[0]) == (
        "failed",
        "The device began this recording and sent nothing of it",
    )


def test_a_device_that_wakes_up_late_goes_on_where_it_was(begun, gateway):
    send(begun, 1, by=gateway)

    with clock.at(clock.now() + timedelta(hours=1)):
        send(begun, 2, by=gateway)

    assert pieces_there(begun) == [1, 2]
    assert TracePiece.objects.count() == 2
