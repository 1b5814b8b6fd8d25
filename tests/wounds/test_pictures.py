"""Photographs drawn anew, and areas traced on them."""

import importlib
import io
import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from exams.wounds.pictures import LONGEST_SIDE, PictureRefused, drawn_anew
from exams.wounds.tracing import DrawnLine, TraceRefused, read_points
from tests.wounds.make import photograph


def with_a_place() -> bytes:
    exif = Image.Exif()
    exif[0x010F] = "Invented Cameras"
    exif[0x0112] = 6  # taken with the camera held upright
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 10.0)
    return photograph(400, 300, exif=exif, comment=b"Iris Marsh, 0042")


def test_what_the_camera_wrote_beside_the_picture_is_gone():
    sent = with_a_place()
    assert b"Invented Cameras" in sent

    picture = drawn_anew(sent)

    kept = Image.open(io.BytesIO(picture.content))
    assert dict(kept.getexif()) == {}
    assert b"Exif" not in picture.content
    assert b"Marsh" not in picture.content
    assert (kept.format, picture.width, picture.height) == ("JPEG", 300, 400)


def test_a_large_photograph_is_drawn_smaller():
    picture = drawn_anew(photograph(4000, 3000))

    assert (picture.width, picture.height) == (LONGEST_SIDE, 1500)


def eighty_megapixels() -> bytes:
    """A PNG whose head promises 10,000 by 8,000 pixels; none of them is there to be decoded."""
    head = struct.pack(">IIBBBBB", 10_000, 8_000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    begins = struct.pack(">I", 13) + chunk + struct.pack(">I", zlib.crc32(chunk))
    return b"\x89PNG\r\n\x1a\n" + begins + struct.pack(">I", 9) + b"IDAT"


def test_a_photograph_cut_short_is_damaged_in_a_process_that_prints_reports_too():
    importlib.import_module("reports.documents.render")

    with pytest.raises(PictureRefused, match="damaged"):
        drawn_anew(photograph(800, 600)[:-4000])


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        (eighty_megapixels(), "80 megapixels; at most 40"),
        (b"%PDF-1.7 not a picture", "JPEG, PNG or WebP"),
        (photograph(form="GIF"), "JPEG, PNG or WebP"),
        (photograph(800, 600)[:-4000], "damaged"),
        (photograph(60, 60), "too small"),
        (b"\xff\xd8" + b"0" * (20 * 2**20), "at most 20 MB"),
        (b"", "JPEG, PNG or WebP"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_words_that_say_what_to_do(sent, says):
    with pytest.raises(PictureRefused, match=says):
        drawn_anew(sent)


SQUARE = ((100, 100), (300, 100), (300, 300), (100, 300))


def test_the_area_is_that_of_the_line_by_the_scale():
    # 200 pixels are 20 mm, so the square of 200 pixels is 20 mm by 20 mm.
    assert DrawnLine(SQUARE, ((0, 0), (0, 200)), 20).area_mm2 == 400


@given(
    turn=st.integers(0, 3),
    across=st.integers(-500, 500),
    down=st.integers(-500, 500),
    mm=st.integers(5, 300),
)
def test_the_area_does_not_depend_on_where_it_lies_or_where_the_line_begins(turn, across, down, mm):
    moved = tuple((x + across, y + down) for x, y in (*SQUARE[turn:], *SQUARE[:turn]))

    assert (
        DrawnLine(moved, ((0, 0), (200, 0)), mm).area_mm2
        == DrawnLine(SQUARE, ((0, 0), (200, 0)), mm).area_mm2
    )


@pytest.mark.parametrize(
    ("points", "scale", "mm", "says"),
    [
        (SQUARE[:2], ((0, 0), (0, 200)), 20, "at least three"),
        (SQUARE, ((0, 0),), 20, "both ends"),
        (SQUARE, ((0, 0), (3, 0)), 20, "same point"),
        (SQUARE, ((0, 0), (0, 200)), 4000, "scale is 5 to 300"),
        ((SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]), ((0, 0), (0, 200)), 20, "crosses itself"),
        (((1e400, 0), (1, 1), (2, 0)), ((0, 0), (0, 200)), 20, "not on the photograph"),
    ],
)
def test_a_line_that_encloses_nothing_is_refused(points, scale, mm, says):
    with pytest.raises(TraceRefused, match=says):
        DrawnLine(points, scale, mm)


def test_points_that_are_no_numbers_are_refused():
    with pytest.raises(TraceRefused, match="cannot be read"):
        read_points("1,2 three,4")
