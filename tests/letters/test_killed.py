"""A worker is killed while it prints a letter: no half one is handed out, and the next worker makes one."""

import pytest

from access.models import TrailRow
from jobs.models import Job
from reports.letters.models import ReferralLetter
from tests.build import new_patient
from tests.followup.make import referral
from tests.processes import kill, until, worker

pytestmark = [pytest.mark.workers, pytest.mark.django_db(transaction=True)]


def test_a_worker_killed_in_a_letter_leaves_no_half_and_no_double_letter(wound_nurse, client_as):
    sent = referral(wound_nurse, new_patient(wound_nurse))
    letter = ReferralLetter.objects.get(step__referral=sent)
    job, address = letter.job_id, f"/letters/{letter.pk}/pdf/"
    with worker() as first:
        until(lambda: Job.objects.get(pk=job).words == "laying out the page", what="the letter's beginning")
        kill(first)

    letter.refresh_from_db()
    assert (Job.objects.get(pk=job).state, letter.is_ready) in (("running", False), ("running", True))
    whole = client_as(wound_nurse).get(address)
    assert whole.status_code == (200 if letter.is_ready else 409)

    with worker():
        until(lambda: Job.objects.get(pk=job).state == "done", what="the letter under the second worker")

    letter.refresh_from_db()
    assert client_as(wound_nurse).get(address).content.startswith(b"%PDF")
    assert ReferralLetter.objects.filter(step__referral=sent).count() == 1
    assert TrailRow.objects.filter(action="referral letter rendered").count() == 1
    assert TrailRow.objects.filter(action="referral letter written").count() == 1
