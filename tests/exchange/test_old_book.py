"""A five-year-old spreadsheet of pressures comes in with every doubtful row explained."""

import pytest
from django.urls import reverse

from exams.visits.models import Exam
from jobs.services import run
from reports.exchange.models import Batch
from tests.exchange.make import done, received, said
from tests.exchange.old_book import old_book
from tests.exchange.test_pages import SAID, columns_of, shown

# Row, column, what is wrong, what to do.
EXPLAINED = [
    (6, "", "the same exam as in row 5", "This row is left out."),
    (
        8,
        "RIGHT toe (mmHg)",
        "1,02 is no pressure of a foot in mmHg; it looks like an index",
        "Write the pres",
    ),
    (9, "R ABI", "its own pressures give 1.07", "The pressures are taken in, not the index."),
    (10, "Date", "no day of the calendar, if the day stands first", "it is 28 May 2019: write it so."),
    (12, "Date", "dates of both orders: 12 Mar 2018 or 3 Dec 2018?", "write the month as a word"),
    (12, "Date", "12 Mar 2018 is before the person was born (4 Apr 2019)", "Check both dates"),
    (13, "RIGHT toe (mmHg)", "“poor trace, repeat?” is neither a pressure nor a word known here", "Write a"),
    (15, "Date", "“14/05/19” can be two different years", "Write it like 25 Nov"),
    (16, "RIGHT arm (mmHg)", "Arm pressure 1400 is not possible.", "Did you mean 140?"),
    (17, "LEFT toe (mmHg)", "“NP” has two meanings: no pulse, or not performed?", "Words of this table"),
    (18, "Hosp No", "no identifier", "leave out a line that is no exam"),
    (19, "RIGHT toe (mmHg)", "0 is not a pressure.", "Write “no signal” if no flow was found"),
    (20, "RIGHT toe (mmHg)", "“112?” is a pressure with a sign of doubt", "Write 112 if it can be relied on"),
    (21, "Date", "“May 2019” is not a date we can read.", "Write it like 25 Nov"),
]


@pytest.fixture
def client(client_as, measurer):
    return client_as(measurer)


@pytest.fixture
def checked_book(client, measurer):
    batch = received(measurer, old_book(), "old pressures.xlsx")
    address = reverse("exchange:columns", args=[batch.pk])
    answer = client.post(address, {**columns_of(client, batch), **SAID, "date_order": "dmy"})
    assert answer.status_code == 302, answer.context["form"].errors
    batch.refresh_from_db()
    return done(batch, batch.job)


def test_the_row_of_headings_is_found_below_a_title_with_its_sides_and_units(client, measurer):
    batch = received(measurer, old_book(), "old pressures.xlsx")

    fields = columns_of(client, batch)

    assert batch.heading_row == 3
    assert [fields[f"column_{place}"] for place in (0, 5, 9, 12, 13, 14)] == [
        "identifier", "right.arm.1", "left.arm.1", "left.toe_1.1", "right.abi", "right.toe_1.2",
    ]  # fmt: skip


def test_dates_of_two_orders_are_asked_for_and_said(client, measurer):
    batch = received(measurer, old_book(), "old pressures.xlsx")

    answer = client.post(
        reverse("exchange:columns", args=[batch.pk]), {**columns_of(client, batch), **SAID, "date_order": ""}
    )

    assert "This table has dates of both kinds" in shown(answer)


@pytest.mark.parametrize(("row", "column", "reason", "suggestion"), EXPLAINED)
def test_a_doubtful_row_is_explained(checked_book, row, column, reason, suggestion):
    found = checked_book.issues.filter(row=row, column=column).values_list("reason", "suggestion")

    assert (True, True) in [(reason in one, suggestion in what) for one, what in found]


def test_what_is_not_doubtful_comes_in_and_nothing_else(client, checked_book, measurer):
    counts = checked_book.counts
    assert (counts["exam"], counts["duplicate"], counts["refused"]) == (5, 1, 11)
    assert {row for row, *_ in said(checked_book)} == {row for row, *_ in EXPLAINED}

    client.post(
        reverse("exchange:take_in", args=[checked_book.pk]),
        {"agree_new_people": "on", "leave_out_refused": "on"},
    )
    run(Batch.objects.get().job.pk)

    came = dict(Exam.objects.values_list("imported_from", "pk"))
    assert sorted(int(name.rpartition(" ")[2]) for name in came) == [5, 7, 9, 11, 14]
    kpa = Exam.objects.get(imported_from="old pressures.xlsx, row 14")
    assert str(kpa.readings.get(side="right", site="toe_1").pressure_mmhg) == "112.0"
    assert kpa.readings.get(side="left", site="toe_1").reason == "amputated"
