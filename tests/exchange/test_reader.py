"""Files of strangers: each kind of odd file has its clear answer, and no bytes do harm."""

import io
import time
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from reports.exchange.sheets import TableRefused, csv_bytes, profile_of, rows_of, xlsx_bytes
from tests.exchange.make import ROW, as_csv, as_xlsx, row


def texts(content: bytes, first_row: int = 1) -> list[tuple[str, ...]]:
    profile = profile_of(content)
    return [tuple(cell.text for cell in one.cells) for one in rows_of(content, profile, "", first_row)]


def notes(content: bytes) -> str:
    return " ".join(profile_of(content).notes)


def refusal(content: bytes) -> str:
    with pytest.raises(TableRefused) as refused:
        list(rows_of(content, profile_of(content)))
    return str(refused.value)


def rows_or_refusal(content: bytes):
    """What comes of a file; any other error than a refusal fails the test that asks."""
    try:
        return list(rows_of(content, profile_of(content)))
    except TableRefused as refused:
        return refused


def with_part(content: bytes, name: str, data: bytes) -> bytes:
    """The workbook with one part added or replaced."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_is_read_whatever_its_separator_and_its_letters(separator, encoding):
    content = as_csv(row(Surname="Ødegård"), separator=separator, encoding=encoding)

    assert texts(content, 2) == [row(Surname="Ødegård")]


def test_letters_that_are_not_utf_8_are_told_of(measurer):
    assert "Windows-1252" in notes(as_csv(row(Surname="Zoë"), encoding="cp1252"))


def test_a_workbook_gives_numbers_dates_and_words_as_text():
    import datetime

    content = as_xlsx((1, 140.5, datetime.date(2019, 5, 14), "Zoë", None, True))

    assert texts(content, 2) == [("1", "140.5", "2019-05-14", "Zoë", "", "yes", *[""] * 7)]


def test_a_formula_is_read_by_its_stored_value_and_without_one_named(tmp_path):
    content = as_xlsx(ROW, row(R_toe="=112/2"))

    found = list(rows_of(content, profile_of(content), "", 3))

    assert "1 formulas (Pressures: " not in notes(content)
    assert "Pressures: 1 formulas (J3)" in notes(content)
    assert "without a stored result" in found[0].cells[9].wrong


def test_macros_are_told_of_and_never_run():
    assert "macros" in notes(with_part(as_xlsx(ROW), "xl/vbaProject.bin", b"anything"))


def test_hidden_sheets_are_named_and_not_read():
    def hide(book, sheet):
        other = book.create_sheet("Deleted patients")
        other.append(["secret"])
        other.sheet_state = "hidden"

    content = as_xlsx(ROW, touch=hide)

    assert "Hidden and not read: Deleted patients" in notes(content)
    assert [sheet.name for sheet in profile_of(content).visible] == ["Pressures"]


def test_a_merged_area_is_named_and_its_rows_are_doubtful():
    content = as_xlsx(ROW, row(Hosp_No="OLD-2"), touch=lambda book, sheet: sheet.merge_cells("A2:A3"))

    found = list(rows_of(content, profile_of(content), "", 2))

    assert "1 merged areas (A2:A3)" in notes(content)
    assert found[0].cells[0].wrong == ""
    assert "merged area A2:A3" in found[1].cells[0].wrong


def test_a_million_empty_rows_take_a_moment_and_are_counted():
    content = as_xlsx(ROW, touch=lambda book, sheet: sheet.cell(1_048_576, 1, "last"))

    began = time.process_time()
    profile = profile_of(content)

    assert profile.sheets[0].empty_rows == 1_048_573
    assert profile.sheets[0].rows == 3
    assert time.process_time() - began < 30  # a hang, not a speed: it takes about one second


def test_a_sheet_that_counts_its_rows_beyond_every_sheet_is_refused():
    content = as_xlsx(ROW)
    sheet = zipfile.ZipFile(io.BytesIO(content)).read("xl/worksheets/sheet1.xml")
    far = sheet.replace(b'<row r="2"', b'<row r="999999999999"')

    assert "more than 1,048,576 rows" in refusal(with_part(content, "xl/worksheets/sheet1.xml", far))


def test_a_zip_bomb_is_refused_before_it_is_unpacked():
    bomb = with_part(as_xlsx(ROW), "xl/worksheets/sheet2.xml", b"0" * 40 * 2**20)

    assert "MB, which no table of pressures needs" in refusal(bomb)


def test_entities_are_refused():
    evil = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><worksheet/>'

    assert "no spreadsheet program writes" in refusal(
        with_part(as_xlsx(ROW), "xl/worksheets/sheet1.xml", evil)
    )


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\n\n \n", "empty"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "save it as .xlsx"),
        (b"%PDF-1.7\n", "PDF"),
        (b"<html><table></table></html>", "web page"),
        (b'{"a": 1}', "JSON"),
        (b"a\x00b\x01\x02\x03,\x04\n" * 50, "not a text table"),
        (b'a,b\n1,"never closed\n' + b"x," * 100_000, "quotation mark"),
        (b"PK\x03\x04 broken", "damaged"),
    ],
)
def test_what_is_no_table_is_refused_in_words(content, words):
    assert words in refusal(content)


def test_an_archive_of_something_else_is_refused():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("readings.csv", "a,b")

    assert "not an .xlsx workbook" in refusal(out.getvalue())


@given(st.binary(max_size=2000))
@settings(max_examples=150, deadline=None)
def test_any_bytes_are_rows_or_a_refusal(content):
    rows = rows_or_refusal(content)

    assert isinstance(rows, TableRefused) or all(
        any(cell.text or cell.wrong for cell in one.cells) for one in rows
    )


# Written once: a workbook holds the time it was written at, and so differs from one second to the next.
WHOLE = as_xlsx(ROW)


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_a_workbook_with_any_damage_is_rows_or_a_refusal(data):
    content = bytearray(WHOLE)
    for _ in range(data.draw(st.integers(1, 30))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))

    found = rows_or_refusal(bytes(content))

    assert isinstance(found, list) or str(found)


@given(
    st.lists(
        st.lists(st.text("aé1 ,;\"'=+-@\n\t", max_size=6), min_size=2, max_size=4), min_size=1, max_size=5
    )
)
@settings(max_examples=80, deadline=None)
def test_what_is_written_holds_nothing_that_a_spreadsheet_would_run(rows):
    book = load_workbook(io.BytesIO(xlsx_bytes(rows, "to mend")))
    cells = [cell.value for line in book.active.iter_rows() for cell in line if cell.value is not None]

    assert not [text for text in cells if str(text).startswith("=")]
    assert csv_bytes(rows).startswith(b"\xef\xbb\xbf")
