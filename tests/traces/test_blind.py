"""A blind reading is one by somebody on whose screen neither the suggestion nor a mark has been."""

import re
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.urls import reverse

from exams.traces.models import ReaderMark, TraceSeen
from exams.traces.queries.waiting import for_a_second_reader
from tests.build import ready_exam
from tests.traces.made import newest_analysis, read_recording
from tests.traces.test_marks import mark

BLIND = {"mark": "mine", "pressure": "82", "verdict": "good"}


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def trace(measurer, exam):
    """A clean RIGHT hallux: 90 mmHg is suggested, and marked by the measurer."""
    trace = read_recording(measurer, exam)
    mark(trace, measurer)
    return trace


def address(trace, page="desk"):
    return reverse(f"traces:{page}", args=[trace.pk])


def listed(client, exam, query=""):
    return client.get(reverse("traces:exam", args=[exam.pk]) + query).content.decode()


def part_of_the_sheet(client, exam):
    answer = client.get(reverse("traces:exam_part", args=[exam.pk]), headers={"HX-Request": "true"})
    return answer.content.decode()


def read_blind(client, trace, **said):
    form = {"analysis": newest_analysis(trace).pk, **BLIND, **said}
    client.post(address(trace, "blind"), form)
    return ReaderMark.objects.latest("pk")


def test_a_list_tells_no_pressure_to_who_could_still_read_blind_and_leads_there(
    trace, exam, client_as, reporter
):
    client = client_as(reporter)

    pages = listed(client, exam), client.get(reverse("traces:waiting")).content.decode()
    kept = read_blind(client, trace)

    # A form's token may hold the figures by chance, never alone.
    assert [re.findall(r"\b90\b", page) for page in pages] == [[], []]
    assert all(address(trace, "blind") in page for page in pages)
    assert "thumbnail" not in pages[0]
    assert (kept.blind, kept.had_seen) == (True, False)


def test_a_list_tells_it_to_who_has_seen_it_and_to_who_does_not_read_recordings(
    trace, exam, client_as, measurer, wound_nurse
):
    client = client_as(measurer)
    client.get(address(trace))

    assert "90 mmHg, good" in listed(client, exam)
    assert "90 mmHg, good" in listed(client_as(wound_nurse), exam)
    assert not TraceSeen.objects.filter(person=wound_nurse.user).exists()


def test_who_has_marked_a_recording_is_told_its_verdict_and_offered_no_blind_reading(
    trace, exam, client_as, measurer, reporter
):
    mark(trace, reporter, pressure_mmhg=Decimal(82), how="moved", blind=True)

    own, blind = (listed(client_as(one), exam) for one in (measurer, reporter))

    assert not TraceSeen.objects.exists()
    assert ["90 mmHg, good" in page for page in (own, blind)] == [True, True]
    assert [address(trace, "blind") in page for page in (own, blind)] == [False, False]


def test_the_desk_draws_ones_own_blind_reading_names_it_and_starts_from_it(
    trace, client_as, measurer, reporter
):
    read_blind(client_as(reporter), trace)

    page = client_as(reporter).get(address(trace)).content.decode()
    others = client_as(measurer).get(address(trace)).content.decode()

    assert 'data-words="you, blind 82"' in page
    assert 'data-words="M. Measurer 90"' in page
    assert "You read it blind: <strong>82 mmHg, good</strong>" in page
    assert re.findall(r'name="mark" value="(\w+)"[^>]* checked', page) == ["mine"]
    assert re.search(r'name="pressure"[^>]* value="82"', page)
    assert 'data-words="R. Reporter, blind 82"' in others


@pytest.mark.parametrize("page", ["desk", "thumbnail"])
def test_a_look_at_the_figures_ends_the_blind_reading_and_the_mark_is_kept_beside(
    trace, exam, client_as, reporter, page
):
    client = client_as(reporter)
    client.get(address(trace, page))

    offered = for_a_second_reader(reporter)
    warned = client.get(address(trace, "blind")).content.decode()
    kept = read_blind(client, trace)

    assert offered == []
    assert address(trace, "blind") not in listed(client, exam)
    assert "not blind (had seen the suggestion)" in warned
    assert (kept.blind, kept.had_seen, kept.reading) == (False, True, None)
    assert (
        "Rufus Reporter, not blind (had seen the suggestion)" in client.get(address(trace)).content.decode()
    )


def test_the_desk_of_a_repeat_shows_this_one_too(trace, exam, client_as, reporter, measurer):
    repeat = read_recording(measurer, exam, attempt=2, seed=5)

    client_as(reporter).get(address(repeat))

    assert set(TraceSeen.objects.values_list("trace_id", flat=True)) == {trace.pk, repeat.pk}


def test_on_the_exam_sheet_its_value_has_been_seen(trace, exam, client_as, reporter, measurer):
    unread = read_recording(measurer, exam, site="toe_2")

    page = part_of_the_sheet(client_as(reporter), exam)

    assert "90 mmHg, good" in page
    assert [one.trace_id for one in TraceSeen.objects.all()] == [trace.pk]
    assert address(unread) in page


def test_a_reader_who_was_told_says_so_and_is_not_counted_as_blind(trace, client_as, reporter):
    kept = read_blind(client_as(reporter), trace, told="yes")

    assert (kept.blind, kept.had_seen) == (False, True)


def test_a_mark_that_had_seen_may_not_pass_as_blind(trace):
    with pytest.raises(IntegrityError, match="mark_is_blind_or_had_seen"):
        ReaderMark.objects.update(blind=True, had_seen=True, reading=None)
