"""The pages of the exam: what they answer, what stays typed, and the trail line each leaves."""

from datetime import timedelta

import pytest
from django.urls import reverse

from access import clock
from access.models import TrailRow
from exams.visits.models import Exam, Outcome
from tests.build import WHOLE, booked_exam, exam_with, reading_at, ready_exam, revision_of, whole_exam

MINUTE = "%Y-%m-%dT%H:%M"


def url(name, *numbers):
    return reverse(f"visits:{name}", args=numbers)


def viewed(what):
    return TrailRow.objects.filter(action=what).count()


def page(answer):
    return answer.content.decode()


@pytest.fixture
def browser(measurer, client_as):
    return client_as(measurer)


def test_booking_from_the_page_opens_the_sheet(browser, patient):
    when = (clock.now() + timedelta(days=1)).strftime(MINUTE)

    answer = browser.post(url("book", patient.pk), {"exam_type": "full", "booked_for": when})

    exam = Exam.objects.get()
    assert answer.headers["Location"] == url("sheet", exam.pk)
    assert exam.exam_type == "full"


def test_a_booking_that_cannot_be_keeps_what_was_typed(browser, patient):
    answer = browser.post(
        url("book", patient.pk),
        {"exam_type": "full", "booked_for": "2019-02-31T10:00", "indication_text": "ulcer of the heel"},
    )

    assert answer.status_code == 422
    assert "not a day and time that exists" in page(answer)
    assert "ulcer of the heel" in page(answer)
    assert not Exam.objects.exists()


def test_all_that_a_booking_lacks_is_asked_at_once(browser, patient):
    answer = browser.post(
        url("book", patient.pk), {"exam_type": "full", "booked_for": "", "indication": "other"}
    )

    assert "Say for when." in page(answer)
    assert "Say what the other reason is." in page(answer)


def test_opening_the_sheet_leaves_a_line(browser, measurer):
    exam = ready_exam(measurer)

    assert browser.get(url("sheet", exam.pk)).status_code == 200
    assert viewed("exam sheet viewed") == 1


def test_the_steps_lead_back_to_the_sheet(browser, measurer):
    exam = booked_exam(measurer)

    answer = browser.post(url("step", exam.pk), {"step": "identity", "how": "stated"})

    assert answer.headers["Location"] == url("sheet", exam.pk)
    exam.refresh_from_db()
    assert (exam.state, exam.identity_confirmed_by) == ("identified", measurer.user)


def test_a_step_that_cannot_be_taken_says_why_and_keeps_what_was_typed(browser, measurer):
    exam = booked_exam(measurer)

    answer = browser.post(
        url("step", exam.pk), {"step": "indication", "indication": "", "indication_text": "sore heel"}
    )

    assert answer.status_code == 422
    assert "Choose why the test is done" in page(answer)
    assert "sore heel" in page(answer)


def test_a_step_nobody_knows_is_refused_in_words(browser, measurer):
    answer = browser.post(url("step", ready_exam(measurer).pk), {"step": "fly"})

    assert answer.status_code == 422


def test_times_on_the_paper_are_typed_for_an_exam_entered_later(browser, measurer):
    exam = ready_exam(measurer, entered_later=True, booked_for=clock.now() - timedelta(days=3))

    answer = browser.post(
        url("step", exam.pk),
        {"step": "lying_flat", "lying_flat_at": "00:05", "first_inflation_at": "quarter past"},
    )
    assert answer.status_code == 422
    assert "Write it like 10:05" in page(answer)

    browser.post(
        url("step", exam.pk), {"step": "lying_flat", "lying_flat_at": "00:05", "first_inflation_at": "00:17"}
    )
    exam.refresh_from_db()
    assert exam.first_inflation_at - exam.lying_flat_at == timedelta(minutes=12)


def test_an_exam_entered_later_is_not_told_that_its_clock_starts_now(browser, measurer):
    exam = booked_exam(measurer, entered_later=True, booked_for=clock.now() - timedelta(days=3))
    browser.post(url("step", exam.pk), {"step": "identity", "how": "stated"})

    shown = page(browser.get(url("sheet", exam.pk)))

    assert "as they stand on the paper" in shown
    assert "The rest clock starts now" not in shown


def test_the_whole_form_saves_every_changed_field_without_javascript(browser, measurer):
    exam = exam_with(measurer, arm_right=140)
    stands = reading_at(exam, "arm_right").pk

    answer = browser.post(
        url("sheet", exam.pk),
        {
            "right.arm.1": "140",
            "seen.right.arm.1": stands,
            "left.arm.1": "138",
            "seen.left.arm.1": "0",
            "technique.arms": "doppler",
            "right.toe_1.1": "/",
            "seen.right.toe_1.1": "0",
            "technique.right_toes": "two_cuffs",
            "position": "supine",
            "seen.position": "0",
        },
    )

    assert answer.status_code == 302
    assert reading_at(exam, "arm_left").pressure_mmhg == 138
    assert reading_at(exam, "right_hallux").outcome == Outcome.NO_SIGNAL
    assert exam.readings.count() == 3
    assert exam.preparations.get().value == "supine"


def test_the_whole_form_keeps_what_was_refused_and_saves_the_rest(browser, measurer):
    exam = ready_exam(measurer)

    answer = browser.post(
        url("sheet", exam.pk),
        {"right.arm.1": "1200", "left.arm.1": "138", "technique.arms": "doppler"},
    )

    assert answer.status_code == 422
    assert "Did you mean 120?" in page(answer)
    assert 'value="1200"' in page(answer)
    assert reading_at(exam, "arm_left").pressure_mmhg == 138


def test_correcting_from_the_page(browser, measurer):
    exam = whole_exam(measurer, right_hallux=48)
    first = reading_at(exam, "right_hallux")

    answer = browser.post(
        url("correct", exam.pk, first.pk),
        {"typed": "84", "technique": "two_cuffs", "reason": "digits swapped"},
    )

    assert answer.status_code == 302
    assert reading_at(exam, "right_hallux").replaces == first


def test_a_correction_without_a_reason_keeps_what_was_typed(browser, measurer):
    exam = whole_exam(measurer)
    first = reading_at(exam, "right_hallux")

    answer = browser.post(url("correct", exam.pk, first.pk), {"typed": "84", "technique": "two_cuffs"})

    assert answer.status_code == 422
    assert "Say why it is corrected" in page(answer)
    assert 'value="84"' in page(answer)


def test_a_reading_already_corrected_is_not_found(browser, measurer):
    exam = whole_exam(measurer)
    first = reading_at(exam, "right_hallux")
    browser.post(
        url("correct", exam.pk, first.pk), {"typed": "84", "technique": "two_cuffs", "reason": "slip"}
    )

    assert browser.get(url("correct", exam.pk, first.pk)).status_code == 404


def test_handing_over_from_the_page(browser, measurer):
    slip = exam_with(measurer, arm_right=140, right_hallux=24).hand_overs.get()
    assert browser.get(url("hand_over", slip.pk)).status_code == 200
    said = {
        "told_name": "Dr Vera Vascular",
        "told_role": "vascular surgeon",
        "told_number": "00000 300",
        "told_by": measurer.user.pk,
        "told_at": clock.now().astimezone(measurer.clinic.zone).strftime(MINUTE),
        "read_back": "RIGHT toe 24",
        "agreed": "",
        "patient_told": "yes",
    }

    refused = browser.post(url("hand_over", slip.pk), said)
    assert refused.status_code == 422
    assert "What was agreed?" in page(refused)
    assert "Dr Vera Vascular" in page(refused)

    browser.post(url("hand_over", slip.pk), {**said, "agreed": "seen today"})
    slip.refresh_from_db()
    assert slip.closed_at is not None


def test_a_failed_try_from_the_page(browser, measurer):
    slip = exam_with(measurer, arm_right=140, right_hallux=24).hand_overs.get()
    now = clock.now().astimezone(measurer.clinic.zone).strftime(MINUTE)

    answer = browser.post(
        url("hand_over_attempt", slip.pk), {"whom": "Dr Vera", "outcome": "no answer", "tried_at": now}
    )

    assert answer.status_code == 302
    assert slip.attempts.get().outcome == "no answer"


def test_raised_in_error_from_the_page(browser, measurer):
    slip = exam_with(measurer, arm_right=140, right_hallux=24).hand_overs.get()

    assert browser.post(url("hand_over_error", slip.pk), {"because": " "}).status_code == 422
    assert browser.post(url("hand_over_error", slip.pk), {"because": "typed 24 for 84"}).status_code == 302


def test_an_administrator_adopts_criteria_from_the_page(administrator, client_as):
    browser = client_as(administrator)

    assert browser.get(url("criteria")).status_code == 200
    assert browser.post(url("criteria"), {"name": "none", "version": "1"}).status_code == 422
    assert browser.post(url("criteria"), {"name": "aha-2012", "version": "1"}).status_code == 302


def test_two_criteria_side_by_side(browser, measurer):
    exam = exam_with(measurer, **WHOLE)

    answer = browser.get(url("compare", exam.pk), {"with": "aha-2012"})

    assert answer.status_code == 200
    assert viewed("exam compared under other criteria") == 1
    assert browser.get(url("compare", exam.pk), {"with": "homemade"}).status_code == 404


@pytest.mark.parametrize("name", ["sheet", "save", "step", "compare"])
def test_a_number_of_nobodys_exam_is_not_found(browser, name):
    ask = browser.get if name in ("sheet", "compare") else browser.post

    assert ask(url(name, 10**25), {"field": "right.arm.1"}).status_code == 404


def test_a_condition_of_a_measured_exam_is_corrected_with_a_reason_and_read_again(browser, measurer):
    exam = exam_with(measurer, finish=True, conditions={"right_toe_celsius": "31"}, **WHOLE)
    field = "right_toe_celsius"
    assert url("correct_condition", exam.pk, field) in page(browser.get(url("sheet", exam.pk)))

    answer = browser.post(
        url("correct_condition", exam.pk, field),
        {"typed": "21", "reason": "digits swapped", "seen": revision_of(exam, field)},
    )

    assert answer.status_code == 302
    row = exam.preparations.latest("pk")
    assert (row.value, row.replaced_because, row.replaces.value) == ("21", "digits swapped", "31")
    shown = page(browser.get(url("sheet", exam.pk)))
    assert "<s>31</s>" in shown
    assert "corrected because: digits swapped" in shown
    # In sight without a key: only what was retyped while measuring is folded away.
    assert '<details class="history"><summary>1 earlier value' in shown


def test_a_forgotten_condition_is_added_after_the_exam_with_a_reason(browser, measurer):
    exam = whole_exam(measurer)

    browser.post(
        url("correct_condition", exam.pk, "position"),
        {"typed": "supine", "reason": "forgotten on the day", "seen": "0"},
    )

    assert exam.preparations.get().value == "supine"


@pytest.mark.parametrize(
    ("typed", "reason", "said"),
    [("21", "", "Say why it is corrected."), ("210", "a slip", "210 is not possible")],
)
def test_a_correction_of_a_condition_that_is_refused_keeps_what_was_typed(
    browser, measurer, typed, reason, said
):
    exam = whole_exam(measurer)

    answer = browser.post(
        url("correct_condition", exam.pk, "left_toe_celsius"), {"typed": typed, "reason": reason, "seen": "0"}
    )

    assert answer.status_code == 422
    assert said in page(answer)
    assert f'value="{typed}"' in page(answer)
    assert not exam.preparations.exists()


def test_a_condition_changed_meanwhile_is_not_overwritten_by_a_correction(browser, measurer):
    exam = exam_with(measurer, finish=True, conditions={"room_celsius": "22"}, **WHOLE)

    answer = browser.post(
        url("correct_condition", exam.pk, "room_celsius"), {"typed": "23", "reason": "a slip", "seen": "0"}
    )

    assert answer.status_code == 422
    assert "put 22 here meanwhile" in page(answer)


def test_there_is_no_correction_page_for_a_condition_of_an_exam_that_is_open(browser, measurer):
    exam = ready_exam(measurer)

    assert browser.get(url("correct_condition", exam.pk, "position")).status_code == 404
    assert browser.get(url("correct_condition", whole_exam(measurer).pk, "humour")).status_code == 404
