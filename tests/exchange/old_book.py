"""A spreadsheet as a clinic may have kept it for years: invented, and ugly in every way we could think of."""

import datetime
import io

from openpyxl import Workbook

TITLE = "Foot clinic - toe pressures 2014-2019 (copy, do not edit)"
GROUPS = ("", "", "", "", "", "RIGHT", "", "", "", "LEFT", "", "", "", "R", "", "")
NAMES = (
    "Hosp No", "Surname", "Forename", "D.O.B.", "Date", "arm", "DP", "PT", "toe", "arm", "DP", "PT", "toe",
    "ABI", "Toe kPa", "Notes",
)  # fmt: skip
UNITS = ("", "", "", "", "", *["mmHg"] * 8, "ratio", "", "")
GOOD = ("140", "146", "150", "112", "138", "148", "152", "108")
ADA = ("OB-1", "Quillfeather", "Ada", "03/03/1950")


def line(person, on, *pressures, abi="", kpa="", notes=""):
    return (*person, on, *pressures, abi, kpa, notes)


def changed(**cells):
    """GOOD with cells changed: r_arm, r_dp, r_pt, r_toe, l_arm, l_dp, l_pt, l_toe."""
    names = ("r_arm", "r_dp", "r_pt", "r_toe", "l_arm", "l_dp", "l_pt", "l_toe")
    return tuple(cells.get(name, value) for name, value in zip(names, GOOD, strict=True))


def person(number, born="04/04/1961"):
    letters = "".join(chr(ord("a") + int(digit)) for digit in f"{number:03d}")
    return (f"OB-{number}", f"Invented{letters}", f"Person{letters}", born)


# Rows 4 and on of the sheet, below a title, groups, names and units (rows 1 to 4): the first stands in row 5.
LINES = (
    line(ADA, "14/05/2019", *GOOD, notes="nice man"),  # 5
    line(ADA, "14/05/2019", *GOOD, notes="nice man"),  # 6: the same row again
    line(person(2), "14/05/2019", *changed(r_dp="n/c", r_pt="n/c", l_dp=">250")),  # 7
    line(person(3), "14/05/2019", *changed(r_toe="1,02")),  # 8: an index where a pressure belongs
    line(person(4), "2019-05-21", *GOOD, abi="0,71"),  # 9: an index that its pressures do not give
    line(person(5), "05/28/2019", *GOOD),  # 10: month first among days first
    line(person(6), datetime.date(2019, 6, 3), *GOOD),  # 11: a real date
    line(person(7, "04/04/2019"), "12/03/2018", *GOOD),  # 12: born after the exam
    line(person(8), "14/05/2019", *changed(r_toe="poor trace, repeat?")),  # 13: a note in a pressure
    line(person(9), "14/05/2019", *changed(r_toe="", l_toe="BKA"), kpa="14,9"),  # 14
    line(person(10), "14/05/19", *GOOD),  # 15: a year of two figures
    line(person(11), "14/05/2019", *changed(r_arm="1400")),  # 16
    line(person(12), "14/05/2019", *changed(l_toe="NP")),  # 17
    line(("", "Mean", "", ""), "", "141", "", "", "", "", "", "", ""),  # 18: a line of sums
    line(person(13), "14/05/2019", *changed(r_toe="0")),  # 19
    line(person(14), "14/05/2019", *changed(r_toe="112?")),  # 20
    line(person(15), "May 2019", *GOOD),  # 21
)


def old_book() -> bytes:
    book = Workbook()
    sheet = book.active
    sheet.title = "Pressures"
    for cells in ((TITLE,), GROUPS, NAMES, UNITS, *LINES):
        sheet.append([cell if cell != "" else None for cell in cells])
    for area in ("A1:P1", "F2:I2", "J2:M2"):
        sheet.merge_cells(area)
    other = book.create_sheet("old list")
    other.append(["do not use"])
    other.sheet_state = "hidden"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
