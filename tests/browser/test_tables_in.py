"""An old table of pressures comes in, its doubtful row explained: one journey in a real browser."""

import os
from pathlib import Path

import pytest
from playwright.sync_api import expect

from jobs.services import run
from reports.exchange.models import Batch
from tests.exchange.make import ROW, as_csv, row

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_table_is_sent_named_checked_taken_in_and_taken_back(page_as, accessible, measurer, tmp_path):
    file = tmp_path / "old pressures.csv"
    doubtful = row(Hosp_No="OLD-2", Surname="Bramble", DOB="4 Apr 1961", R_toe="NP")
    file.write_bytes(as_csv(ROW, doubtful))
    page = page_as(measurer)

    page.goto("/")
    page.get_by_role("link", name="Tables in").click()
    assert accessible(page) == []
    page.get_by_label("Table (.xlsx or CSV)").set_input_files(file)
    page.get_by_role("button", name="Look into it").click()

    # What is certain is filled in; what is not is asked, and what was chosen stays.
    expect(page.get_by_label("R toe")).to_have_value("right.toe_1.1")
    page.get_by_label("Who issued the identifiers").fill("Old ward book")
    page.get_by_role("button", name="Check every row").click()
    expect(page.get_by_text("Say how the toes were measured")).to_be_visible()
    expect(page.get_by_label("Who issued the identifiers")).to_have_value("Old ward book")
    assert accessible(page) == []
    look(page, "columns")
    for kind, way in (("Arms", "doppler"), ("Ankles", "doppler"), ("Toes", "two_cuffs")):
        page.get_by_label(f"{kind} were measured with").select_option(way)
    page.get_by_role("button", name="Check every row").click()
    expect(page.get_by_text("Waiting for a worker")).to_be_visible()
    assert accessible(page) == []

    run(Batch.objects.get().job_id)
    expect(page.get_by_role("row", name="Row 3")).to_contain_text("no pulse, or not performed?")
    assert accessible(page) == []
    look(page, "checked")
    page.get_by_label("Register 1 person as new").check()
    page.get_by_label("Leave out 1 row").check()
    page.get_by_role("button", name="Take 1 exam in").click()
    expect(page.get_by_text("Waiting for a worker")).to_be_visible()
    run(Batch.objects.get().job_id)
    expect(page.get_by_text("Taken in: 1 exam with 8 readings.")).to_be_visible()
    assert accessible(page) == []

    page.get_by_label("Why it is taken back").fill("wrong ward")
    page.get_by_role("button", name="Take it back").click()
    run(Batch.objects.get().job_id)
    expect(page.get_by_text("Taken back: wrong ward")).to_be_visible()


def look(page, name: str) -> None:
    folder = os.environ.get("LOOK_AT")
    for width in (1440, 390) if folder else ():
        page.set_viewport_size({"width": width, "height": 900})
        page.screenshot(path=Path(folder) / f"{name}-{width}.png", full_page=True)
