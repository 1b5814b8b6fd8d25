"""An administrator counts a year, reads a measure and asks for rows; a nurse cannot: one journey."""

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from access import clock
from jobs import services as jobs
from jobs.models import Job
from tests.audit.test_counting import many_exams
from tests.people import Cast, cast_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def work():
    """Do what waits, as a worker would."""
    for number in Job.objects.filter(state="waiting").values_list("pk", flat=True):
        jobs.run(number)


def test_from_counting_a_year_to_an_approved_export(page_as, accessible):
    cast: Cast = cast_of("Alder House")
    this_month = clock.now().date().replace(day=1)
    last = this_month - timedelta(days=1)
    many_exams(cast, 20, rested=0.5, first=last, months=1)

    nurse = page_as(cast.wound_nurse)
    nurse.goto("/audit/")
    expect(nurse.get_by_role("heading", name="You may not do this")).to_be_visible()
    nurse.goto("/")
    expect(nurse.get_by_role("link", name="Audit statistics")).to_have_count(0)

    page = page_as(cast.administrator)
    page.goto("/")
    page.get_by_role("link", name="Audit statistics").click()
    expect(page.get_by_text("Nothing is counted yet")).to_be_visible()
    assert accessible(page) == []
    page.get_by_role("button", name="Count this year now").click()
    expect(page.get_by_text("The figures are being counted")).to_have_count(2)
    work()
    page.goto(f"/audit/?period=month-{last:%Y-%m}")
    expect(page.get_by_role("row", name="P01")).to_contain_text("50.0 %")
    assert accessible(page) == []

    page.get_by_role("link", name="P01").click()
    expect(page.locator("[data-audit-chart=run] .main-svg").first).to_be_visible()
    expect(page.get_by_text("P01 version 1", exact=True)).to_be_visible()
    assert accessible(page) == []
    page.get_by_role("link", name="Compare two periods").click()
    expect(page.get_by_role("heading", name="two periods")).to_be_visible()
    assert accessible(page) == []

    page.get_by_role("link", name="Exports").click()
    page.get_by_role("button", name="Ask for the rows").click()
    expect(page.get_by_text("Say what the rows are for")).to_be_visible()
    assert accessible(page) == []
    page.locator("#rows_year").select_option(index=1)  # last year: this one may have no whole quarter
    page.get_by_label("What the rows are for").fill("how many rest long enough")
    page.get_by_label("Legal basis").fill("approval 7")
    page.get_by_role("button", name="Ask for the rows").click()
    expect(page.get_by_text("Somebody else who may see the audit has to decide.")).to_be_visible()
    address = page.url

    second = page_as(cast.reporter, width=390)
    second.goto(address)
    second.get_by_role("radio", name="approve").check()
    second.get_by_label("Why", exact=True).fill("agreed in the meeting")
    assert accessible(second) == []
    second.get_by_role("button", name="Decide").click()
    work()
    page.reload()
    page.get_by_role("button", name="Make the link that opens the rows once").click()
    with page.expect_download() as taken:
        page.get_by_role("button", name="Take the rows now").click()
    assert taken.value.suggested_filename.startswith("audit-rows-")
    page.goto(address)
    expect(page.get_by_text("Taken.")).to_be_visible()
