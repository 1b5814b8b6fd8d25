"""A step that was a slip is taken back by a further one: both stay, with who and why."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from access import clock
from access.models import TrailRow
from exams.followup import services
from exams.followup.queries.referrals import referral_page
from tests.followup.make import newest, referral, step, today

pytestmark = pytest.mark.django_db
WHY = "the button beside it was meant"


@pytest.fixture
def sent(wound_nurse, reporter, patient):
    made = referral(wound_nurse, patient)
    step(made, "accepted", reporter, day=today() + timedelta(days=2))
    return made


def back(of, by, **said):
    return services.take_step_back(referral=of, by=by, **{"seen": newest(of).pk, "because": WHY, **said})


def test_the_step_before_stands_again_and_both_stay_with_who_and_why(sent, reporter, wound_nurse):
    day, slip = newest(sent).day, step(sent, "declined", reporter, words="not for us")

    undone = back(sent, reporter)

    sent.refresh_from_db()
    slip.refresh_from_db()
    assert (sent.state, undone.state, undone.day, undone.words) == ("accepted", "accepted", day, WHY)
    assert (slip.state, slip.words) == ("declined", "not for us")
    page = referral_page(wound_nurse, sent.pk)
    assert [struck for _, _, struck in page.told] == [False, False, True, False]
    assert (page.line.state, page.line.due) == ("accepted", day)
    assert TrailRow.objects.get(action="referral step taken back").details["because"] == WHY


def test_it_goes_on_from_there_and_an_earlier_slip_can_be_taken_back_too(sent, reporter):
    step(sent, "declined", reporter, words="not for us")
    back(sent, reporter)
    back(sent, reporter, seen=sent.steps.get(state="accepted", takes_back=None).pk)

    step(sent, "received", reporter)

    sent.refresh_from_db()
    assert sent.state == "received"


def test_what_waits_is_still_counted_from_the_first_sending(wound_nurse, reporter, patient):
    with clock.at(clock.now() - timedelta(days=5)):
        made = referral(wound_nurse, patient)
    step(made, "received", reporter)

    back(made, reporter)

    assert referral_page(wound_nurse, made.pk).line.sent_on == today() - timedelta(days=5)


def test_twice_takes_one_back_and_what_happened_meanwhile_is_told(sent, reporter):
    slip = step(sent, "seen", reporter, day=today())
    assert back(sent, reporter, seen=slip.pk) == back(sent, reporter, seen=slip.pk)

    with pytest.raises(ValidationError, match="Meanwhile"):
        back(sent, reporter, seen=sent.steps.earliest("pk").pk)


def test_each_side_takes_back_its_own_steps_and_nobody_a_sending(sent, wound_nurse, reporter, patient):
    with pytest.raises(PermissionDenied):
        back(sent, wound_nurse)
    with pytest.raises(ValidationError, match="may have gone out"):
        back(referral(wound_nurse, patient, reasons="another"), wound_nurse)
    with pytest.raises(ValidationError, match="Say why"):
        back(sent, reporter, because=" ")


def test_the_page_offers_it_strikes_it_through_and_asks_for_the_reason(sent, reporter, client_as):
    browser, address = client_as(reporter), f"/follow-up/referrals/{sent.pk}/answer/"
    typed = {"after": "taken_back", "seen": newest(sent).pk}
    assert "was a slip: take it back" in browser.get(f"/follow-up/referrals/{sent.pk}/").content.decode()

    refused = browser.post(address, {**typed, "because": ""})
    browser.post(address, {**typed, "because": WHY})

    assert refused.status_code == 422
    assert "Say why" in refused.content.decode()
    shown = browser.get(f"/follow-up/referrals/{sent.pk}/").content.decode()
    assert "<s>Accepted</s>" in shown
    assert WHY in shown


def test_the_day_of_a_slip_is_struck_through_with_it(sent, reporter, client_as):
    back(sent, reporter)

    page = client_as(reporter).get(f"/follow-up/referrals/{sent.pk}/").content.decode()

    assert "<s>to be seen" in page
