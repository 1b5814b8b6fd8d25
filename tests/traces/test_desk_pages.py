"""The pages of the Trace desk: what a form may say, what comes back, and who sees what."""

import html
import re
from types import SimpleNamespace

import pytest
from django.urls import reverse

from access.models import TrailRow
from exams.traces.forms_desk import MarkForm
from exams.traces.models import ReaderMark
from exams.visits.models import Reading
from tests.build import exam_with, ready_exam
from tests.traces.made import newest_analysis, read_recording, unsure_recording
from tests.traces.test_marks import mark, moved, standing


@pytest.fixture
def exam(measurer):
    return ready_exam(measurer)


@pytest.fixture
def trace(measurer, exam):
    return read_recording(measurer, exam)


def address(trace, page="desk", **query):
    return reverse(f"traces:{page}", args=[trace.pk], query=query)


def text(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def say(trace, client, page="desk", **said):
    """What a form without a script sends."""
    form = {"analysis": newest_analysis(trace).pk, "mark": "suggested", "seen": 0, "verdict": "good", **said}
    return client.post(address(trace, page), form)


def test_accepting_leads_to_the_next_recording_and_says_what_was_kept(trace, exam, client_as, measurer):
    following = read_recording(measurer, exam, site="toe_2")
    client = client_as(measurer)

    answer = say(trace, client)

    assert answer.headers["Location"] == address(following)
    shown = client.get(address(following)).content.decode()
    assert "Kept. RIGHT hallux: 90 mmHg, good, in the exam sheet." in shown
    assert f'<a href="{address(trace)}">Look at it again</a>' in shown
    assert standing(exam) == ["90"]


def test_on_the_way_through_the_list_the_desk_says_which_of_how_many(trace, exam, client_as, measurer):
    second = read_recording(measurer, exam, site="toe_2")
    third = read_recording(measurer, exam, site="toe_3")
    client = client_as(measurer)

    begin = html.unescape(
        re.search(r'class="button" href="([^"]+)"', client.get(reverse("traces:waiting")).content.decode())[1]
    )
    first = text(client.get(begin))
    form = {"analysis": newest_analysis(trace).pk, "mark": "suggested", "seen": 0, "verdict": "good"}
    accepted = client.post(begin, form).headers["Location"]
    passed = client.get(reverse("traces:waiting", query={"after": second.pk, "n": 2, "of": 3}))

    assert begin == address(trace, n=1, of=3)
    assert "1 of 3 ·" in first
    assert accepted == address(second, n=2, of=3)
    assert passed.headers["Location"] == address(third, n=3, of=3)
    assert " of 3 ·" not in text(client.get(address(third)))


def test_the_next_recording_of_another_person_is_announced(trace, client_as, measurer):
    other = read_recording(measurer, ready_exam(measurer))
    client = client_as(measurer)

    say(trace, client)

    assert "The recording below is of another person." in text(client.get(address(other)))


def test_after_the_last_one_the_list_says_that_nothing_waits(trace, client_as, measurer):
    client = client_as(measurer)

    answer = say(trace, client)

    assert answer.headers["Location"] == reverse("traces:waiting")
    assert "No recording waits for a verdict." in text(client.get(reverse("traces:waiting")))


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"verdict": ""}, "Say what you make of it"),
        ({"pressure": ""}, "Put the mark first, or type its pressure."),
        ({"mark": "mine", "pressure": "sixty"}, "“sixty” is not understood."),
        ({"mark": "mine", "pressure": "/"}, "Type a pressure in mmHg, whole or half."),
        (
            {"mark": "mine", "pressure": "1200"},
            "Did you mean 120? Nothing was stored; what you typed is still",
        ),
        ({"words": "x" * 121}, "longer than 120 characters"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(said, words):
    desk = SimpleNamespace(choices=(), suggestion=None, site="toe_1")

    form = MarkForm({"analysis": 1, "verdict": "good", "mark": "mine", "pressure": "62", **said}, desk=desk)

    assert not form.is_valid()
    assert words in " ".join(error for errors in form.errors.values() for error in errors)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"mark": "mine", "pressure": "20"}, "20 mmHg is not on this recording"),
        ({"verdict": "repeat", "words": ""}, "Say why: choose a reason of the list"),
        ({"analysis": 0}, "read anew meanwhile"),
    ],
)
def test_a_refused_verdict_stores_nothing_and_keeps_what_was_typed(trace, client_as, measurer, said, words):
    answer = say(trace, client_as(measurer), **{"words": "a remark of mine", **said})

    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    assert f'value="{said.get("words", "a remark of mine")}"' in page
    assert not ReaderMark.objects.exists()


def test_a_typed_pressure_with_a_decimal_comma_and_unit_is_a_mark(trace, client_as, measurer):
    say(trace, client_as(measurer), mark="mine", pressure="82,5 mmHg")

    kept = ReaderMark.objects.get()
    assert (str(kept.pressure_mmhg), kept.how) == ("82.5", "moved")


def test_the_reason_of_the_list_and_the_persons_own_words_are_kept_together(trace, client_as, measurer):
    say(trace, client_as(measurer), verdict="repeat", reason="leak", words="cuff 25 mm")

    assert ReaderMark.objects.get().reason == "pulses while occluded: the cuff leaked; cuff 25 mm"


def test_an_unsure_suggestion_stands_in_no_field_and_cannot_be_sent(exam, client_as, measurer):
    trace = unsure_recording(measurer, exam)
    client = client_as(measurer)

    page = client.get(address(trace)).content.decode()
    answer = say(trace, client)

    assert 'value="suggested"' not in page
    assert re.findall(r'name="verdict" value="(\w+)"', page)[0] == "repeat"
    assert answer.status_code == 422
    assert "Confidence is low, so the suggestion is not taken over." in text(answer)


def test_a_different_value_in_the_sheet_asks_and_is_corrected_only_when_said(client_as, measurer):
    exam = exam_with(measurer, right_hallux=48)
    trace = read_recording(measurer, exam)
    client, row = client_as(measurer), Reading.objects.get(exam=exam, site="toe_1")

    asked = text(client.get(address(trace)))
    say(trace, client)
    unchanged = standing(exam)
    say(trace, client, sheet="correct", seen=row.pk, words="read from the recording")

    assert "It says 48 mmHg (Mina Measurer" in asked
    assert (unchanged, standing(exam)) == (["48"], ["90"])


def test_a_value_that_changed_meanwhile_is_shown_instead_of_replaced(client_as, measurer):
    exam = exam_with(measurer, right_hallux=48)
    trace = read_recording(measurer, exam)

    answer = say(trace, client_as(measurer), sheet="correct", seen=999_999, words="digits swapped")

    assert answer.status_code == 422
    assert "Mina Measurer put 48 mmHg into the sheet meanwhile." in text(answer)


def test_a_second_thought_on_ones_own_mark_corrects_the_sheet_unless_it_is_left(
    trace, exam, client_as, measurer, reporter
):
    mark(trace, measurer)
    page, beside = (client_as(one).get(address(trace)).content.decode() for one in (measurer, reporter))
    row = Reading.objects.get(exam=exam, site="toe_1")

    corrected = re.search(r'name="sheet" value="correct"( checked)?', page)[1]
    again = {"mark": "mine", "pressure": "82", "words": "one beat late", "seen": row.pk}
    say(trace, client_as(measurer), sheet="correct", **again)

    assert corrected == " checked"
    assert 'name="sheet"' not in beside
    assert standing(exam) == ["82"]


def test_refusing_a_recording_whose_value_stands_says_that_it_still_does(trace, client_as, measurer):
    mark(trace, measurer)
    client = client_as(measurer)

    say(trace, client, verdict="unreadable", reason="noise")

    assert "The exam sheet still says 90 mmHg." in text(client.get(reverse("traces:waiting")))


def test_unreadable_may_write_not_obtained(trace, exam, client_as, measurer):
    say(trace, client_as(measurer), verdict="unreadable", reason="noise", not_obtained="yes")

    assert standing(exam) == ["signal_unreadable"]


def test_the_wound_team_sees_the_recording_and_no_form(trace, client_as, wound_nurse):
    page = client_as(wound_nurse).get(address(trace)).content.decode()

    assert "Suggested: RIGHT hallux 90 mmHg" in page
    assert 'id="verdict"' not in page


def test_the_page_works_without_a_script(trace, client_as, measurer):
    page = client_as(measurer).get(address(trace, whole="")).content.decode()

    assert len(re.findall(r'<input type="radio" name="reason"', page)) == 10
    assert 'name="pressure"' in page
    assert page.count('<circle class="beat"') >= 6


def test_a_blind_page_tells_nothing_and_a_blind_mark_shows_both_afterwards(
    trace, exam, client_as, measurer, reporter
):
    mark(trace, measurer)
    client = client_as(reporter)

    page = text(client.get(address(trace, "blind")))
    answer = say(trace, client, "blind", mark="mine", pressure="82")
    after = text(client.get(answer.headers["Location"]))

    assert "90 mmHg" not in page
    assert "uggested" not in page.replace("suggestion", "")
    assert "Mina Measurer" not in page.replace("from Mina Measurer", "")
    assert answer.headers["Location"] == f"{address(trace)}#marks"
    assert "8 mmHg (1.9 beats) below the suggestion" in after


def test_each_page_leaves_one_line_and_its_parts_none(trace, client_as, measurer):
    client = client_as(measurer)
    before = TrailRow.objects.count()
    client.get(address(trace))
    client.get(address(trace, "window", from_s=12, to_s=20))
    client.get(address(trace, "thumbnail"))
    client.get(address(trace, "blind"))
    client.get(reverse("traces:waiting"))

    lines = TrailRow.objects.order_by("pk")[before:]
    assert [(row.action, row.patient_id is not None) for row in lines] == [
        ("trace displayed", True),
        ("trace displayed for a blind reading", True),
        ("list of waiting traces viewed", False),
    ]


def test_a_page_asks_the_database_as_often_whoever_has_marked_or_looked(
    trace, exam, client_as, measurer, reporter, django_assert_num_queries
):
    client, second = client_as(measurer), client_as(reporter)
    with django_assert_num_queries(15):
        client.get(address(trace))
    mark(trace, measurer)
    read_recording(measurer, exam, attempt=2, seed=5)

    with django_assert_num_queries(15):
        client.get(address(trace))
    with django_assert_num_queries(13):
        second.get(address(trace, "blind"))
    with django_assert_num_queries(14):
        second.get(address(trace))
    with django_assert_num_queries(13):
        second.get(address(trace, "blind"))


def test_a_window_is_a_few_points_of_the_deflation(trace, client_as, measurer):
    points = client_as(measurer).get(address(trace, "window", from_s=20, to_s=22)).json()

    assert points["time_s"][0] < 200_000 < 220_000 < points["time_s"][-1]
    assert {len(points[name]) for name in ("time_s", "mmhg", "level")} == {len(points["time_s"])}


@pytest.mark.parametrize("asked", [{}, {"from_s": "nan", "to_s": 3}, {"from_s": 3, "to_s": 3}])
def test_a_window_that_is_none_is_refused(trace, client_as, measurer, asked):
    assert client_as(measurer).get(address(trace, "window", **asked)).status_code == 400


def test_a_reading_leads_to_its_desk_and_one_without_a_recording_to_none(trace, client_as, measurer):
    kept = mark(trace, measurer)
    client = client_as(measurer)

    led = client.get(reverse("traces:of_reading", args=[kept.reading_id]))

    assert led.headers["Location"] == address(trace)
    assert client.get(reverse("traces:of_reading", args=[999_999])).status_code == 404


def test_the_thumbnail_is_a_picture_of_its_own(trace, client_as, measurer):
    moved(trace, measurer, 84)

    answer = client_as(measurer).get(address(trace, "thumbnail"))

    assert answer.headers["Content-Type"] == "image/svg+xml"
    assert "84 mmHg" in answer.content.decode()
