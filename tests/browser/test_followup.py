"""The nurse refers from the outlook, the surgeon's side answers, the nurse reads it; recall; a death."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from tests.build import new_patient, whole_exam
from tests.followup.make import recall, today
from tests.wounds.make import assess, wound

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_referral_there_and_back_then_recall_then_death(page_as, accessible, measurer, wound_nurse, reporter):
    patient = new_patient(measurer)
    whole_exam(measurer, patient, right_hallux=24)
    assess(wound_nurse, wound(wound_nurse, patient, "right:toe_1_sole"))
    recall(wound_nurse, patient, 3, today() - timedelta(days=150))

    # From the outlook, on a phone: how soon and why are there; an emptied field is refused at its place.
    nurse = page_as(wound_nurse, width=390)
    nurse.goto(f"/wounds/{patient.pk}/outlook/right/")
    nurse.get_by_role("link", name="Refer", exact=True).click()
    expect(nurse.get_by_role("radio", name="at once")).to_be_checked()
    expect(nurse.get_by_label("Why, and what you ask")).to_contain_text("toe 24 mmHg")
    assert accessible(nurse) == []
    sent_to = nurse.get_by_label("To", exact=True)
    sent_to.fill("")
    nurse.get_by_role("button", name="Send the referral").click()
    expect(nurse.get_by_text("Say to whom")).to_be_visible()
    expect(nurse.get_by_label("Why, and what you ask")).to_contain_text("toe 24 mmHg")
    assert accessible(nurse) == []
    sent_to.fill("Vascular surgeon on call")
    nurse.get_by_role("button", name="Send the referral").click()
    expect(nurse.get_by_role("row", name="Sent")).to_be_visible()
    expect(nurse.get_by_role("button", name="Accept")).to_have_count(0)
    assert accessible(nurse) == []
    nurse.get_by_role("link", name="Letters of this referral").click()
    expect(nurse.get_by_text("being made; open this page again")).to_be_visible()
    assert accessible(nurse) == []

    # The surgeon's side finds it on Today; declining needs words, accepting does not.
    surgeon = page_as(reporter)
    surgeon.goto("/")
    expect(surgeon.get_by_text("Accept it, return it with a question, or decline it.")).to_be_visible()
    assert accessible(surgeon) == []
    surgeon.get_by_role("link", name="Open the referral").click()
    surgeon.get_by_role("button", name="Decline").click()
    expect(surgeon.get_by_text("Say why, and what to do instead.").last).to_be_visible()
    assert accessible(surgeon) == []
    surgeon.get_by_label("Day").fill("today")
    surgeon.get_by_role("button", name="Accept").click()
    expect(surgeon.get_by_text("The referral is now “accepted”.")).to_be_visible()

    # The nurse sees that it was taken up, and for when.
    nurse.goto("/follow-up/referrals/")
    expect(nurse.get_by_text("Accepted", exact=False).first).to_be_visible()
    assert accessible(nurse) == []

    # Recall: a try that reached nobody leaves it standing.
    nurse.goto("/follow-up/recall-list/")
    assert accessible(nurse) == []
    nurse.get_by_role("link", name="Open the recall").filter(has_text="category 3").click()
    nurse.get_by_label("Way").select_option("telephone")
    nurse.get_by_label("What came of it").select_option("not_reached")
    nurse.get_by_role("button", name="Record the try").click()
    expect(nurse.get_by_role("cell", name="not reached")).to_be_visible()
    expect(nurse.get_by_text("say that the person was seen")).to_be_visible()
    assert accessible(nurse) == []

    # A death, entered with the details, stops all of it.
    nurse.goto(f"/patients/{patient.pk}/change/")
    nurse.get_by_label("Died on").fill("today")
    nurse.get_by_role("button", name="Save").first.click()
    nurse.goto(f"/follow-up/patients/{patient.pk}/")
    expect(nurse.get_by_text("Death is recorded: referrals, recalls")).to_be_visible()
    expect(nurse.get_by_role("link", name="Refer to the vascular side")).to_have_count(0)
    assert accessible(nurse) == []
    surgeon.goto("/")
    expect(surgeon.get_by_role("heading", name="Referrals")).to_have_count(0)
