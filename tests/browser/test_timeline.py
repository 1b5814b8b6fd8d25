"""The patient page and the limb timeline in a real browser."""

from datetime import timedelta

import pytest

from access import clock
from exams.patients.services import record_limb_fact
from tests.build import new_patient, whole_exam

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def years_of_ivy(measurer):
    """Ivy's RIGHT ankle stiffens and her hallux is replaced by the second toe; the LEFT stays as it was."""
    ivy = new_patient(measurer, given_name="Ivy", family_name="Sampleton")
    now = clock.now()

    def exam(days_ago, **pressures):
        whole_exam(measurer, ivy, at=now - timedelta(days=days_ago), **pressures)

    exam(2600, right_hallux=96)
    exam(2200, right_hallux=84)
    exam(1800, right_hallux=76, right_posterior_tibial="*250", right_dorsalis_pedis="*250")
    exam(1400, right_hallux=70)
    exam(1000, right_hallux=52, right_posterior_tibial=126, right_dorsalis_pedis=120)
    exam(600, right_hallux="-2", right_second_toe=44, right_posterior_tibial=112, right_dorsalis_pedis=104)
    exam(200, right_hallux="-2", right_second_toe=38, right_posterior_tibial=96, right_dorsalis_pedis=90)
    exam(20, right_hallux="-2", right_second_toe=24, right_posterior_tibial=84, right_dorsalis_pedis=80)
    record_limb_fact(
        patient=ivy,
        side="right",
        kind="open_wound",
        started_on=(now - timedelta(days=30)).date(),
        source="seen",
        note="heel",
        by=measurer,
    )
    return ivy


def charts(page):
    return page.locator(".timeline-chart .main-svg").first


def test_shots(page_as, measurer, years_of_ivy, accessible):
    for name, width, scheme in (("d", 1440, "light"), ("m", 390, "light"), ("k", 1440, "dark")):
        page = page_as(measurer, width=width, color_scheme=scheme)
        page.goto(f"/patients/{years_of_ivy.pk}/")
        page.screenshot(path=f"/tmp/tl/pg/p{name}.png", full_page=True)
        print(name, accessible(page))
        page.goto(f"/patients/{years_of_ivy.pk}/timeline/")
        charts(page).wait_for()
        page.screenshot(path=f"/tmp/tl/pg/t{name}.png", full_page=True)
        print(name, accessible(page))
