"""Rows of a table to drafts of exams, with every problem named. Pure: nothing is looked up or stored."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from exams.patients import matching
from exams.patients.models import EARLIEST_BIRTH
from exams.patients.typed_date import written
from exams.visits.models import ExamType, Indication, Outcome, PreparationItem
from exams.visits.plan import Place
from exams.visits.typed import KEPT, TypedReading, read_preparation
from reports.exchange.cells import (
    CellReader,
    Trouble,
    once,
    read_day,
    read_index,
    read_reason,
    read_word,
    two_days,
)
from reports.exchange.columns import Mapping, unit_in
from reports.exchange.draft import MOST_ATTEMPTS, Draft, Problem, joined, same_exam
from reports.exchange.headings import is_row_of_units
from reports.exchange.own_words import plain_text, table_words
from reports.exchange.sheets import Cell, Row
from reports.exchange.words import ANSWER_OF, INDICATION_OF, NOT_A_SITE, SEX_OF, SIDE_OF, SITE_OF, key

_CONDITIONS = {
    "rest_minutes": PreparationItem.REST_MINUTES_TYPED,
    "right_toe_celsius": PreparationItem.RIGHT_TOE_CELSIUS,
    "left_toe_celsius": PreparationItem.LEFT_TOE_CELSIUS,
}
_MEASURE_OF = {"abi": "ankle_brachial_index", "tbi": "toe_brachial_index"}
NOTHING_SAID = "not stated in the imported table"


@dataclass(frozen=True, slots=True)
class _Column:
    place: int
    heading: str
    name: str
    words: dict[str, str]


class DraftReader:
    """Reads the rows of one table by one mapping.

    Parameters
    ----------
    mapping : which column is which.
    today : the day in the clinic's zone; nothing of a table can be later.
    """

    def __init__(self, mapping: Mapping, today: date) -> None:
        self._mapping, self._options, self._today = mapping, mapping.options, today
        words = table_words(mapping.options.words)
        self._columns = tuple(
            _Column(place, heading, name, {**words.get("", {}), **words.get(key(heading), {})})
            for place, (heading, name) in enumerate(zip(mapping.headings, mapping.fields, strict=True))
            if name
        )
        self._by_name = {column.name: column for column in self._columns}
        self._cells = {
            column.name: CellReader(unit_in(column.heading) or self._options.unit) for column in self._columns
        }
        order = self._options.date_order
        self._day = once(lambda text: read_day(text, order))
        self._place = {name: _place(name) for name in self._by_name if name.count(".") == 2}
        self._wide = [column for column in self._columns if column.name in self._place]
        self._reported = [c for c in self._columns if c.name.endswith((".abi", ".tbi"))]
        self._all_on = date.fromisoformat(self._options.exam_date) if self._options.exam_date else None
        born = self._options.subject_born
        self._all_born = date.fromisoformat(born) if born and self._options.subjects else None

    @property
    def exam_type(self) -> str:
        kinds = self._mapping.kinds
        return ExamType.TOE_ONLY if "toe" in kinds and "ankle" not in kinds else ExamType.ANKLE_AND_TOE

    def technique(self, place: Place) -> str:
        kind = "arm" if place.site == "arm" else "toe" if place.site.startswith("toe") else "ankle"
        return str(getattr(self._options, f"{kind}_technique"))

    def drafts(self, rows: Iterable[Row]) -> Iterator[Draft]:
        """One draft an exam, in the order of the file; a row of units under the headings is none."""
        rows = (row for row in rows if not is_row_of_units(row))
        if not self._mapping.is_long:
            for row in rows:
                yield self._whole(self._draft(row))
            return
        standing: Draft | None = None
        for row in rows:
            draft = self._draft(row)
            if standing is not None and same_exam(standing, draft):
                joined(standing, draft)
                continue
            if standing is not None:
                yield self._whole(standing)
            standing = draft
        if standing is not None:
            yield self._whole(standing)

    # ---- one row

    def _draft(self, row: Row) -> Draft:
        draft = Draft(row.number)
        if len(row.cells) > len(self._mapping.headings) and any(
            cell.text for cell in row.cells[len(self._mapping.headings) :]
        ):
            draft.problems.append(
                Problem(
                    row.number,
                    "",
                    "",
                    f"the row has {len(row.cells)} cells, the headings are {len(self._mapping.headings)}",
                    "A separator too many: look where the cells have moved.",
                )
            )
        for column in self._columns:
            cell = row.cells[column.place] if column.place < len(row.cells) else None
            if cell is not None and cell.wrong:
                self._say(draft, column, cell.text or "cannot be read", Trouble(cell.wrong, cell.mend))
        self._person(draft, row)
        self._visit(draft, row)
        if self._mapping.is_long:
            self._long_reading(draft, row)
        else:
            self._wide_readings(draft, row)
        for column in self._reported:
            side, index = column.name.split(".")
            found = self._of(draft, row, column, read_index)
            if isinstance(found, int):
                draft.reported[_MEASURE_OF[index], side] = found
        return draft

    def _person(self, draft: Draft, row: Row) -> None:
        parts = [self._text(row, name) for name in ("identifier", "identifier_2")]
        draft.identifier = "-".join(part for part in parts if part)[:60]
        draft.identifier_key = matching.key(draft.identifier)
        if not draft.identifier_key:
            self._say(
                draft,
                self._by_name["identifier"],
                draft.identifier,
                Trouble(
                    "no identifier",
                    "Write the number by which this person is known; leave out a line that is no exam.",
                ),
            )
        draft.sex = self._meant(draft, row, "sex", SEX_OF, "a sex") or "unknown"
        draft.diabetes = self._meant(draft, row, "diabetes", ANSWER_OF, "yes or no") or "unknown"
        draft.kidney_disease = self._meant(draft, row, "kidney_disease", ANSWER_OF, "yes or no") or "unknown"
        if self._options.subjects:
            draft.family_name, draft.given_name, draft.born = "Subject", draft.identifier[:80], self._all_born
            draft.name_key = draft.identifier_key
        else:
            draft.family_name = _line(self._text(row, "family_name"))[:80]
            draft.given_name = _line(self._text(row, "given_name"))[:80]
            draft.name_key = matching.name_key(draft.family_name, draft.given_name)
        if "birth_date" in self._by_name:
            column = self._by_name["birth_date"]
            found = self._of(draft, row, column, self._day)
            if isinstance(found, date):
                draft.born = found
                if found > self._today or found < EARLIEST_BIRTH:
                    self._say(draft, column, self._text(row, "birth_date"), Trouble(
                        f"{written(found)} cannot be a birth date", "Check year, day and month."
                    ))  # fmt: skip
            elif not self._text(row, "birth_date"):
                self._say(
                    draft, column, "", Trouble("no birth date", "Write it: nobody is matched without one.")
                )

    def _visit(self, draft: Draft, row: Row) -> None:
        column = self._by_name.get("exam_date")
        if column is None:
            draft.on = self._all_on
        else:
            text = self._text(row, "exam_date")
            found = (
                self._of(draft, row, column, self._day)
                if text
                else Trouble("no date", "Write the exam's day.")
            )
            if not text:
                self._say(draft, column, "", Trouble("no date of the exam", "Write the day it was measured."))
            elif isinstance(found, date):
                draft.on = found
                if found > self._today:
                    self._say(
                        draft, column, text, Trouble(f"{written(found)} is still to come", "Check the year.")
                    )
                elif draft.born is not None and found < draft.born:
                    self._say(draft, column, text, Trouble(
                        f"{written(found)} is before the person was born ({written(draft.born)})",
                        "Check both dates, and the order of day and month.",
                    ))  # fmt: skip
        said = self._text(row, "indication")
        draft.indication = INDICATION_OF.get(key(said), Indication.OTHER)
        draft.indication_text = said[:300] if draft.indication == Indication.OTHER else ""
        draft.indication_text = draft.indication_text or (
            NOTHING_SAID if draft.indication == Indication.OTHER else ""
        )
        for name, item in _CONDITIONS.items():
            if name in self._by_name:
                self._condition(draft, row, name, item)
        first = self._meant(draft, row, "first_arm", SIDE_OF, "right or left")
        if first:
            draft.conditions[PreparationItem.FIRST_ARM] = first
        if comment := _line(self._text(row, "comment"))[:300]:
            draft.conditions[PreparationItem.COMMENT] = comment

    def _condition(self, draft: Draft, row: Row, name: str, item: str) -> None:
        try:
            said = read_preparation(self._text(row, name), item)
        except ValidationError as refused:
            reason = refused.messages[0].replace(KEPT, "").strip()
            trouble = Trouble(reason, "It is left out; the row comes in.", grave=False)
            self._say(draft, self._by_name[name], self._text(row, name), trouble)
            return
        if said:
            draft.conditions[item] = said

    def _wide_readings(self, draft: Draft, row: Row) -> None:
        used = ""
        if "arm_side" in self._by_name:
            used = self._meant(draft, row, "arm_side", SIDE_OF, "right or left") or ""
        for column in self._wide:
            side, site = self._place[column.name]
            cell = self._cell(row, column)
            found = self._cells[column.name].pressure(_translated(cell.text, column), site)
            if isinstance(found, Trouble):
                if not cell.wrong:
                    self._say(draft, column, cell.text, found)
            elif found.value is not None:
                if side == "used" and not used:
                    self._say(draft, column, cell.text, Trouble(
                        "a pressure, but of which arm?", "Write right or left in the column of arms."
                    ))  # fmt: skip
                else:
                    self._add(draft, side if side != "used" else used, site, found.value, column, cell.text)

    def _long_reading(self, draft: Draft, row: Row) -> None:
        side = self._meant(draft, row, "side", SIDE_OF, "right or left")
        site = self._site(draft, row)
        column = self._by_name["reading"]
        cell = self._cell(row, column)
        if not side and not self._text(row, "side"):
            self._say(draft, self._by_name["side"], "", Trouble("no side", "Write right or left."))
        if not (side and site):
            return
        found = self._cells["reading"].pressure(_translated(cell.text, column), site)
        if isinstance(found, Trouble):
            if not cell.wrong:
                self._say(draft, column, cell.text, found)
            return
        value = found.value
        why = self._text(row, "reason")
        if value is None and why:
            said = read_reason(why)
            value = said if isinstance(said, TypedReading) else None
        if value is not None:
            self._add(draft, side, site, value, column, cell.text)

    def _site(self, draft: Draft, row: Row) -> str:
        text = self._text(row, "site")
        column = self._by_name["site"]
        site = SITE_OF.get(key(_translated(text, column)), "")
        if not site:
            what = NOT_A_SITE.get(key(text))
            reason = (
                f"“{text[:40]}” is not a site: {what}" if what else f"“{text[:40]}” is not a site known here"
            )
            self._say(
                draft,
                column,
                text,
                Trouble(reason, "Write arm, PT, DP, peroneal, hallux, 2nd toe … 5th toe."),
            )
        return site

    def _add(
        self, draft: Draft, side: str, site: str, value: TypedReading, column: _Column, text: str
    ) -> None:
        """The next attempt at a place: attempts are counted in the order in which they stand."""
        attempt = 1 + sum(1 for place, _ in draft.readings if (place.side, place.site) == (side, site))
        if attempt > MOST_ATTEMPTS:
            self._say(draft, column, text, Trouble(
                f"more than {MOST_ATTEMPTS} readings at one place", "Keep the last three, send it again."
            ))  # fmt: skip
            return
        draft.readings.append((Place(side, site, attempt), value))

    def _whole(self, draft: Draft) -> Draft:
        """What only the whole exam can show."""
        if draft.readings and all(value.outcome == Outcome.NOT_OBTAINED for _, value in draft.readings):
            draft.problems.append(Problem(
                draft.row, "", "", "no pressure, only reasons", "It comes in as a limited exam.", grave=False
            ))  # fmt: skip
        return draft

    # ---- one cell

    def _cell(self, row: Row, column: _Column) -> Cell:
        return row.cells[column.place] if column.place < len(row.cells) else _EMPTY

    def _text(self, row: Row, name: str) -> str:
        column = self._by_name.get(name)
        if column is None or column.place >= len(row.cells):
            return ""
        return _translated(row.cells[column.place].text, column)

    def _of(self, draft: Draft, row: Row, column: _Column, read: Callable[[str], Any]) -> Any:
        """What `read` makes of a cell; None, and the trouble said, where it makes nothing of it."""
        cell = self._cell(row, column)
        text = _translated(cell.text, column)
        if not text or cell.wrong:
            return None
        found = read(text)
        if self._options.dates_mixed and read is self._day and (days := two_days(text)):
            trouble = Trouble(
                f"this table has dates of both orders: {days}?", "Look it up; write the month as a word."
            )
            self._say(draft, column, cell.text, trouble)
        if isinstance(found, Trouble):
            self._say(draft, column, cell.text, found)
            return None
        return found

    def _meant(self, draft: Draft, row: Row, name: str, meanings: dict[str, str], what: str) -> str:
        column = self._by_name.get(name)
        found = self._of(draft, row, column, lambda text: read_word(text, meanings, what)) if column else ""
        return found or ""

    def _say(self, draft: Draft, column: _Column, value: str, trouble: Trouble) -> None:
        draft.problems.append(
            Problem(draft.row, column.heading, value[:80], trouble.reason, trouble.suggestion, trouble.grave)
        )


_EMPTY = Cell()


def _translated(text: str, column: _Column) -> str:
    return column.words.get(plain_text(text), text) if column.words else text


def _place(name: str) -> tuple[str, str]:
    side, site, _ = name.split(".")
    return side, site


def _line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
