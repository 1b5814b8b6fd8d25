"""The exam sheet as hands and eyes meet it: typed by the number pad, cut off, caught up, read aloud."""

import pytest
from playwright.sync_api import expect

from access import clock
from exams.visits import services
from exams.visits.models import HandOver, Reading
from tests.browser.sheet import (
    Hands,
    box,
    lie_down,
    said,
    standing,
    type_into,
    typed,
)
from tests.patients.make import caution, fact, register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_whole_ankle_and_toe_exam_takes_at_most_120_keystrokes_and_no_mouse(page_as, measurer, booked):
    page = page_as(measurer)
    page.goto(f"/exams/{booked.pk}/")
    hands = Hands(page)

    expect(page.get_by_label("How confirmed")).to_be_focused()
    hands.enter("1")
    expect(page.get_by_role("button", name="Lying flat now")).to_be_focused()
    hands.enter("")
    expect(page.get_by_label("Reason", exact=True)).to_be_focused()
    hands.enter("1", "", "")
    expect(page.get_by_role("button", name="Both arms and legs checked")).to_be_focused()
    hands.enter("")
    expect(typed(page, "position")).to_be_focused()
    hands.enter("1", "31", "30.5", "24", "5")
    hands.enter("138", "132", "150", "148", "140", "144", "92", "90", "101", "99", "136")
    expect(page.get_by_role("button", name="Measured", exact=True)).to_be_focused()
    hands.enter("")
    expect(page.get_by_text("Measured.").first).to_be_visible()

    booked.refresh_from_db()
    assert booked.state == "measured"
    assert standing(booked) == {
        "right.arm.1": "138",
        "left.arm.1": "132",
        "right.posterior_tibial.1": "150",
        "right.dorsalis_pedis.1": "148",
        "left.posterior_tibial.1": "140",
        "left.dorsalis_pedis.1": "144",
        "right.toe_1.1": "92",
        "right.toe_1.2": "90",
        "left.toe_1.1": "101",
        "left.toe_1.2": "99",
        "right.arm.2": "136",
    }
    assert hands.strokes <= 120


def test_an_impossible_value_is_refused_at_its_field_and_stays_as_typed(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")

    type_into(page, "right.arm.1", "1200")
    expect(said(page, "right.arm.1", "error")).to_contain_text("Did you mean 120?")

    expect(typed(page, "right.arm.1")).to_have_value("1200")
    expect(typed(page, "right.arm.1")).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#to-mend")).to_contain_text("RIGHT arm")
    assert standing(resting) == {}


def test_the_findings_beside_the_sheet_follow_each_value(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    expect(page.locator("#spot")).to_contain_text("Nothing yet")

    type_into(page, "right.arm.1", "140")
    type_into(page, "right.toe_1.1", "70")

    expect(page.locator("#spot")).to_contain_text("RIGHT")
    expect(page.locator("#spot")).to_contain_text("0.50")


def test_an_urgent_value_calls_for_a_person_the_moment_it_is_stored(page_as, measurer, patient, resting):
    fact(measurer, patient, side="right", kind="open_wound")
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.arm.1", "140")

    type_into(page, "right.toe_1.1", "24")
    expect(page.locator("#hand-overs")).to_contain_text("A person must be told.")
    page.get_by_role("link", name="Open the hand-over slip").click()

    slip = HandOver.objects.get(exam=resting)
    expect(page).to_have_url(page.url.split("/exams/")[0] + f"/exams/hand-over/{slip.pk}/")
    expect(page.get_by_text("recording it here tells no one")).to_be_visible()


def test_the_notice_says_what_the_limb_reads_now_and_what_raised_it(page_as, measurer, patient, resting):
    fact(measurer, patient, side="right", kind="open_wound")
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.arm.1", "140")
    type_into(page, "right.toe_1.1", "24")
    notice = page.locator("#hand-overs [data-slip]")
    expect(notice.locator("[data-words]")).to_contain_text("toe pressure 24 mmHg")
    expect(notice.locator("[data-was]")).to_be_hidden()

    type_into(page, "right.toe_1.2", "28")

    expect(notice.locator("[data-words]")).to_contain_text("toe pressure 26 mmHg")
    expect(notice.locator("[data-was]")).to_contain_text("toe pressure 24 mmHg")


def test_a_graver_slip_takes_the_place_of_the_milder_one_on_the_open_sheet(
    page_as, measurer, patient, resting
):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.arm.1", "140")
    type_into(page, "right.toe_1.1", "24")
    notice = page.locator("#hand-overs [data-slip]")
    expect(notice).to_contain_text("within one working day")

    fact(measurer, patient, side="right", kind="open_wound")
    type_into(page, "left.arm.1", "138")

    expect(notice).to_contain_text("with an open wound")
    expect(notice).to_have_count(1)


def test_on_a_phone_a_link_leads_to_what_it_means_and_back(page_as, measurer, resting):
    page = page_as(measurer, width=390)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.arm.1", "140")

    page.get_by_role("link", name="What it means so far").click()
    expect(page.locator("#spot")).to_be_focused()
    expect(page.locator("#spot h2")).to_be_in_viewport()

    page.get_by_role("link", name="Back to the fields").click()
    expect(page.locator("#measuring")).to_be_focused()


def test_a_step_clicked_twice_is_taken_once(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    asked = []
    page.on("request", lambda request: request.method == "POST" and asked.append(request.url))

    page.get_by_text("Stop before the end").click()
    page.get_by_label("Why it is stopped").fill("felt faint")
    page.get_by_role("button", name="Stop the exam").dblclick()

    expect(page.get_by_text("Stopped: felt faint").first).to_be_visible()
    assert len([url for url in asked if url.endswith("/step/")]) == 1


def test_the_rest_clock_counts_from_the_stored_time_and_survives_a_reload(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    expect(page.locator("#rest-clock")).to_contain_text("Ten minutes reached.")

    page.reload()

    expect(page.locator("#rest-clock [data-watch]")).to_contain_text("11:")


def test_everything_else_opens_and_folds_by_one_key(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    expect(typed(page, "right.peroneal.1")).to_be_hidden()
    typed(page, "right.arm.1").focus()

    page.keyboard.press("+")

    expect(typed(page, "right.peroneal.1")).to_be_visible()
    expect(typed(page, "right.arm.1")).to_have_value("")


def test_a_protected_arm_says_do_not_inflate_and_is_passed_over(page_as, measurer, patient, booked):
    caution(measurer, patient, side="left", region="arm")
    lie_down(booked, measurer)
    page = page_as(measurer)
    page.goto(f"/exams/{booked.pk}/")

    type_into(page, "right.arm.1", "138")

    expect(typed(page, "right.posterior_tibial.1")).to_be_focused()
    expect(box(page, "left.arm.1")).to_contain_text("Do not inflate")


def test_a_reason_may_be_chosen_instead_of_typed_and_the_list_opens_at_a_minus(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.toe_1.1").focus()

    page.keyboard.type("-4")
    expect(said(page, "right.toe_1.1", "reasons")).to_contain_text("toe too short")
    expect(said(page, "right.toe_1.1", "shown")).to_have_text("wound under the cuff")
    page.keyboard.press("Enter")
    expect(said(page, "right.toe_1.1", "shown")).to_have_text("not obtained: wound under the cuff")
    page.get_by_label("LEFT hallux: instead of a pressure").select_option("/")
    expect(said(page, "left.toe_1.1", "shown")).to_have_text("no signal")

    outcomes = Reading.objects.filter(exam=resting).order_by("pk").values_list("outcome", "reason")
    assert list(outcomes) == [("not_obtained", "wound_under_cuff"), ("no_signal", "")]


def test_a_toe_that_could_not_be_measured_offers_the_next_one_and_is_not_asked_for_again(
    page_as, measurer, resting
):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    expect(typed(page, "right.toe_2.1")).to_be_hidden()

    type_into(page, "right.toe_1.1", "-1")
    expect(typed(page, "left.toe_1.1")).to_be_focused()

    expect(typed(page, "right.toe_2.1")).to_be_visible()


def test_an_answered_question_goes_away_and_stays_away(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.toe_1.1", "60")
    type_into(page, "right.toe_1.2", "80")
    expect(said(page, "right.toe_1.2", "remark")).to_contain_text("20 mmHg apart")
    expect(typed(page, "right.toe_1.3")).to_be_visible()

    box(page, "right.toe_1.2").get_by_role("button", name="It stands").click()
    expect(said(page, "right.toe_1.2", "remark")).to_be_hidden()
    page.reload()

    expect(said(page, "right.toe_1.2", "remark")).to_be_hidden()
    expect(box(page, "right.toe_1.2")).to_contain_text("It stands: checked.")


def test_a_minute_is_counted_between_two_inflations_of_a_foot(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    clock_of = page.locator('[data-inflation-clock="right"]')
    expect(clock_of).to_be_hidden()

    type_into(page, "right.toe_1.1", "60")

    expect(clock_of).to_contain_text("until the next inflation of this foot.")
    page.reload()
    expect(clock_of).to_contain_text("until the next inflation of this foot.")


def test_a_technique_chosen_late_may_hold_for_the_readings_already_there(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.toe_1.1", "60")
    expect(said(page, "right.toe_1.1")).to_contain_text("saved")
    page.keyboard.press("F2")

    page.locator('[id="technique.right_toes"]').select_option("one_cuff_hand")
    page.get_by_role("button", name="Also for the reading already here").click()
    expect(said(page, "right.toe_1.1")).to_contain_text("saved")
    page.reload()

    expect(page.locator('[id="technique.right_toes"]')).to_have_value("one_cuff_hand")
    stands = Reading.objects.get(exam=resting, replaced_by=None)
    assert (stands.pressure_mmhg, stands.technique) == (60, "one_cuff_hand")


def test_shift_and_enter_goes_back_one_field(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "left.arm.1").focus()

    page.keyboard.press("Shift+Enter")

    expect(typed(page, "right.arm.1")).to_be_focused()


def test_a_step_waits_for_what_is_not_stored_yet(page_as, measurer, resting):
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.arm.1").fill("1200")

    page.get_by_role("button", name="Measured", exact=True).click()

    expect(typed(page, "right.arm.1")).to_be_focused()
    expect(page.locator("#alarm")).to_contain_text("RIGHT arm is not stored yet.")
    expect(typed(page, "right.arm.1")).to_have_value("1200")


def test_two_patients_sheets_in_one_browser_warn_each_other(page_as, measurer, resting):
    other = register(measurer, family_name="Otherby", given_name="Olga")
    second = services.book_exam(patient=other, exam_type="toe_only", booked_for=clock.now(), by=measurer)
    page = page_as(measurer)
    page.goto(f"/exams/{resting.pk}/")
    beside = page.context.new_page()

    beside.goto(f"/exams/{second.pk}/")
    expect(page.get_by_text("Another patient's exam sheet is open")).to_be_visible()
    expect(beside.get_by_text("Another patient's exam sheet is open")).to_be_visible()
    beside.close()

    expect(page.get_by_text("Another patient's exam sheet is open")).to_be_hidden()


def test_without_a_script_the_whole_form_is_sent_and_a_wrong_value_keeps_what_was_typed(
    page_as, measurer, resting
):
    page = page_as(measurer, java_script_enabled=False)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "right.arm.1").fill("138")
    typed(page, "left.arm.1").fill("1320")

    page.get_by_role("button", name="Save what is typed").click()

    assert standing(resting) == {"right.arm.1": "138"}
    expect(typed(page, "left.arm.1")).to_have_value("1320")
    expect(said(page, "left.arm.1", "error")).to_contain_text("Did you mean 132?")
    expect(page.locator("#to-mend")).to_contain_text("LEFT arm")


@pytest.mark.parametrize(("width", "height"), [(1440, 900), (1024, 768), (390, 844)])
def test_no_field_in_focus_hides_under_what_sticks_to_the_top(page_as, measurer, resting, width, height):
    page = page_as(measurer, width=width, height=height)
    page.goto(f"/exams/{resting.pk}/")
    typed(page, "position").focus()

    hidden = page.evaluate(
        """() => {
          const stuck = () => Math.max(...["stuck", "hand-overs"].map((id) =>
            document.getElementById(id).getBoundingClientRect().bottom));
          return [...document.querySelectorAll("#sheet :is(input, select, button, a, summary)")]
            .filter((one) => one.getClientRects().length && !one.closest("#stuck") && one.type !== "hidden")
            .filter((one) => one.matches("summary") || !one.closest("details:not([open])"))
            .reverse()
            .filter((one) => {
              one.focus();
              return one.getBoundingClientRect().top < stuck() - 1;
            })
            .map((one) => one.id || one.textContent);
        }"""
    )

    assert hidden == []


@pytest.mark.parametrize("width", [1440, 390])
def test_nothing_stands_in_the_way_of_a_screen_reader(page_as, accessible, measurer, patient, resting, width):
    fact(measurer, patient, side="right", kind="open_wound")
    page = page_as(measurer, width=width)
    page.goto(f"/exams/{resting.pk}/")
    type_into(page, "right.arm.1", "140")
    type_into(page, "right.toe_1.1", "24")
    type_into(page, "left.arm.1", "1320")
    expect(page.locator("#hand-overs")).to_contain_text("A person must be told.")
    expect(said(page, "left.arm.1", "error")).to_be_visible()

    page.keyboard.press("F2")

    assert accessible(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("width", [1440, 390])
def test_every_target_is_large_enough_for_a_gloved_finger(page_as, measurer, resting, width):
    page = page_as(measurer, width=width)
    page.goto(f"/exams/{resting.pk}/")

    small = page.evaluate(
        """() => [...document.querySelectorAll("#entry :is(input, select, button), #sheet form button")]
          .filter((one) => one.getClientRects().length && !["hidden", "checkbox"].includes(one.type))
          .filter((one) => one.getBoundingClientRect().height < 44 || one.getBoundingClientRect().width < 44)
          .map((one) => one.id || one.textContent)"""
    )

    assert small == []
