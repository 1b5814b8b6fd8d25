"""Tables as people send them, taken through the services as the jobs take them."""

import csv
import io
import os
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import Workbook

from access.people import Person
from jobs.services import run
from reports.exchange import services
from reports.exchange.columns import Mapping, Options, suggested
from reports.exchange.models import Batch
from reports.exchange.queries import head_of

HEADINGS = (
    "Hosp No",
    "Surname",
    "Forename",
    "DOB",
    "Date",
    "R arm",
    "L arm",
    "R DP",
    "R PT",
    "R toe",
    "L DP",
    "L PT",
    "L toe",
)
PERSON = ("OLD-1", "Quillfeather", "Ada", "3 Mar 1950", "14 May 2019")
WHOLE = ("140", "138", "146", "150", "112", "148", "152", "108")
ROW = (*PERSON, *WHOLE)
OPTIONS = Options(
    issuer="Old ward book",
    date_order="dmy",
    unit="mmhg",
    arm_technique="doppler",
    ankle_technique="doppler",
    toe_technique="two_cuffs",
)
OPEN_TABLE = "population_ankle_arm_1999_2002.csv"
OPEN_FIELDS = {
    "cycle": "identifier",
    "row": "identifier_2",
    "arm_used_code": "arm_side",
    "arm_1_mmhg": "used.arm.1",
    "arm_2_mmhg": "used.arm.2",
    "left_pt_1_mmhg": "left.posterior_tibial.1",
    "left_pt_2_mmhg": "left.posterior_tibial.2",
    "left_abi_published": "left.abi",
    "right_pt_1_mmhg": "right.posterior_tibial.1",
    "right_pt_2_mmhg": "right.posterior_tibial.2",
    "right_abi_published": "right.abi",
    "left_above_255_code": "left.posterior_tibial.3",
    "right_above_255_code": "right.posterior_tibial.3",
}
OPEN_OPTIONS = Options(
    issuer="open survey",
    date_order="dmy",
    unit="mmhg",
    arm_technique="doppler",
    ankle_technique="doppler",
    exam_date="2002-12-31",
    subjects=True,
    subject_born="1900-01-01",
    index_rule="population-survey",
    words="arm_used_code: 1 = right\narm_used_code: 2 = left\narm_used_code: 8 = blank\n"
    "left_above_255_code: 1 = over 255\nleft_above_255_code: 2 = blank\n"
    "right_above_255_code: 1 = over 255\nright_above_255_code: 2 = blank",
)


def row(**changed) -> tuple[str, ...]:
    """ROW with some cells changed, named by their headings with _ for blanks: ``row(R_toe="84")``."""
    cells = dict(zip(HEADINGS, ROW, strict=True))
    for name, text in changed.items():
        cells[name.replace("_", " ")] = text
    return tuple(cells.values())


def as_csv(*rows, headings=HEADINGS, separator=",", encoding="utf-8") -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator).writerows([headings, *rows])
    return out.getvalue().encode(encoding)


def as_xlsx(*rows, headings=HEADINGS, touch=lambda book, sheet: None) -> bytes:
    book = Workbook()
    book.active.title = "Pressures"
    for one in (headings, *rows):
        book.active.append(list(one))
    touch(book, book.active)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def received(by: Person, content: bytes, name: str = "old pressures.csv") -> Batch:
    return services.receive_table(name=name, content=content, by=by)


def named(by: Person, content: bytes, fields=None, name="old pressures.csv", **options) -> Batch:
    """Received, with the columns taken as their headings say or as ``fields`` says."""
    batch = received(by, content, name)
    headings = head_of(batch).headings
    taken = tuple(fields.get(one, "") for one in headings) if fields else suggested(list(headings))
    mapping = Mapping(headings, taken, replace(OPTIONS, **options))
    return services.name_columns(batch=batch, mapping=mapping, by=by)


def checked(by: Person, content: bytes, fields=None, **options) -> Batch:
    batch = named(by, content, fields, **options)
    return done(batch, services.ask_for_check(batch=batch, by=by))


def taken_in(by: Person, content: bytes, fields=None, **options) -> Batch:
    batch = checked(by, content, fields, **options)
    job = services.ask_to_take_in(batch=batch, agree_new_people=True, leave_out_refused=True, by=by)
    return done(batch, job)


def done(batch: Batch, job) -> Batch:
    run(job.pk)
    job.refresh_from_db()
    assert job.state == "done", job.reason
    batch.refresh_from_db()
    return batch


def said(batch: Batch) -> list[tuple[int, str, str, str]]:
    """Row, column, value and reason of everything found, in the order of the rows."""
    return list(batch.issues.order_by("row", "pk").values_list("row", "column", "value", "reason"))


def open_table(people: int | None = None) -> bytes:
    """The open population table, or its first rows. Skips where it is not here."""
    elsewhere = Path(__file__).resolve().parents[3] / "shared" / "data"
    path = Path(os.environ.get("VASLAB_OPEN_DATA", elsewhere)) / OPEN_TABLE
    if not path.exists():
        pytest.skip(f"{OPEN_TABLE} is not here (VASLAB_OPEN_DATA names its folder)")
    lines = path.read_bytes().splitlines(keepends=True)
    return b"".join(lines if people is None else lines[: people + 1])
