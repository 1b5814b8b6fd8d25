"""What the pages of this room show: tables that came, what was found in one, and its first rows."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import islice

from django.db.models import QuerySet

from access.people import Person
from access.permissions import NotHere, require
from exams.patients.queries import today_in
from exams.visits.wording import place_words, reading_shown
from reports.exchange.columns import Mapping, Options, suggested
from reports.exchange.draft import Draft
from reports.exchange.drafts import DraftReader
from reports.exchange.headings import headings_of, is_row_of_units
from reports.exchange.models import BUSY, Batch, BatchState, ImportedExam, Issue, MappingTemplate
from reports.exchange.sheets import Profile, Row, TableRefused, harmless, rows_of
from reports.exchange.words import key, many

ABILITY = "import tables"
SHOWN = 100
ISSUES_SHOWN = 200
ROWS_SHOWN = 8
EXAMS_SHOWN = 50
# Beside the headings of the table itself, on the sheet of rows to mend; not read when it comes back.
WHAT_IS_WRONG, WHAT_TO_DO = "What is wrong", "What to do"


def batch_for(person: Person, number: int) -> Batch:
    """The table, if it came to the clinic the person acts in.

    Raises
    ------
    PermissionDenied, NotHere
    """
    require(person, ABILITY)
    found = (
        Batch.objects.select_related("clinic", "job", "received_by", "imported_by", "taken_back_by")
        .filter(pk=number, clinic=person.clinic)
        .first()
    )
    if found is None:
        raise NotHere("no such table in this clinic")
    return found


def batches(person: Person) -> "QuerySet[Batch]":
    """The clinic's tables, newest first, at most SHOWN. One query."""
    require(person, ABILITY)
    return (
        Batch.objects.filter(clinic=person.clinic)
        .select_related("received_by")
        .order_by("-received_at", "-pk")[:SHOWN]
    )


def templates(person: Person) -> list[MappingTemplate]:
    require(person, ABILITY)
    return list(MappingTemplate.objects.filter(clinic=person.clinic).order_by("name"))


@dataclass(frozen=True)
class ColumnLine:
    """One column of the file: its heading, some of what stands in it, and the field it is taken as."""

    place: int
    heading: str
    examples: tuple[str, ...]


@dataclass(frozen=True)
class TableHead:
    """The headings and first rows of a table, or why there are none."""

    columns: tuple[ColumnLine, ...]
    rows: tuple[Row, ...]
    wrong: str = ""

    @property
    def headings(self) -> tuple[str, ...]:
        return tuple(column.heading for column in self.columns)


def head_of(batch: Batch) -> TableHead:
    """The headings of a table and its first rows, read from the file. One query."""
    profile = Profile.from_json(batch.profile)
    try:
        begun = rows_of(bytes(batch.file.content), profile, batch.sheet, max(batch.heading_row - 1, 1))
        rows = list(islice(begun, ROWS_SHOWN + 2))
    except TableRefused as error:
        return TableHead((), (), str(error))
    here = [row for row in rows if row.number >= batch.heading_row]
    if not here:
        return TableHead((), (), f"Row {batch.heading_row} and those after it are empty.")
    above = next((row for row in rows if row.number == here[0].number - 1), None)
    first, *others = here[: ROWS_SHOWN + 1]
    names = headings_of(above, first, others[0] if others else None)
    others = [row for row in others if not is_row_of_units(row)]
    columns = tuple(
        ColumnLine(
            place,
            _heading(name, place),
            tuple(
                dict.fromkeys(
                    row.cells[place].text
                    for row in others
                    if place < len(row.cells) and row.cells[place].text
                )
            )[:3],
        )
        for place, name in enumerate(names)
    )
    return TableHead(columns, tuple(others))


def first_rows(batch: Batch) -> Iterator[Row]:
    """Rows below the headings, to guess from; none where the file cannot be read."""
    profile = Profile.from_json(batch.profile)
    try:
        yield from rows_of(bytes(batch.file.content), profile, batch.sheet, batch.heading_row + 1)
    except TableRefused:
        return


@dataclass(frozen=True)
class PreviewLine:
    """One of the first rows as it would be read: who, when, what; and what is wrong with it."""

    row: int
    person: str
    born: date | None
    on: date | None
    readings: tuple[str, ...]
    problems: tuple[str, ...]


def preview(batch: Batch, mapping: Mapping) -> list[PreviewLine]:
    """How the first rows would be read. Empty while no column is the identifier."""
    if mapping.place("identifier") is None or (
        mapping.is_long and not {"side", "site"} <= set(mapping.fields)
    ):
        return []
    reader = DraftReader(mapping, today_in(batch.clinic))
    drafts = reader.drafts(islice(first_rows(batch), ROWS_SHOWN * (8 if mapping.is_long else 1)))
    return [_preview_line(draft) for draft in islice(drafts, ROWS_SHOWN)]


def mapping_to_show(
    batch: Batch, head: TableHead, templates: list[MappingTemplate], chosen: int = 0
) -> Mapping:
    """The mapping to begin with: as said already, by the chosen or best template, else by the headings."""
    if not chosen and batch.mapping is not None:
        return Mapping.from_json(batch.mapping)
    own = [name if name not in (WHAT_IS_WRONG, WHAT_TO_DO) else "" for name in head.headings]
    plain = Mapping(head.headings, suggested(own))
    template = next((one for one in templates if one.pk == chosen), None) or _fitting(head, templates)
    if template is None:
        return plain
    return plain.with_template(template.columns, Options.from_json(template.options))


def issues(batch: Batch, *, grave: bool | None = None) -> "QuerySet[Issue]":
    found = Issue.objects.filter(batch=batch)
    if grave is not None:
        found = found.filter(grave=grave)
    return found.order_by("-grave", "row", "pk")


def exams_shown(batch: Batch) -> list[ImportedExam]:
    """The first exams that a table brought, in the order of its rows."""
    return list(batch.exams.select_related("exam").order_by("row", "pk")[:EXAMS_SHOWN])


def is_busy(batch: Batch) -> bool:
    """Whether a job works on the table now, or is about to."""
    return batch.state in BUSY and batch.job is not None and batch.job.is_open


def has_failed(batch: Batch) -> bool:
    """Whether the job that was to work on the table gave up."""
    return batch.state in BUSY and not is_busy(batch)


def error_sheet(batch: Batch) -> list[list[str]]:
    """The rows that cannot come in, as they stand in the file, with what is wrong and what to do before them.

    Mended, it is sent as a table of its own: the two columns before are not read.
    """
    said: dict[int, tuple[list[str], list[str]]] = {}
    for issue in issues(batch, grave=True):
        wrong, advice = said.setdefault(issue.row, ([], []))
        wrong.append(f"{issue.column}: {issue.reason}" if issue.column else issue.reason)
        if issue.suggestion and issue.suggestion not in advice:
            advice.append(issue.suggestion)
    headings = list(Mapping.from_json(batch.mapping).headings) if batch.mapping else []
    lines = [[WHAT_IS_WRONG, WHAT_TO_DO, *headings]]
    profile = Profile.from_json(batch.profile)
    for row in rows_of(bytes(batch.file.content), profile, batch.sheet, batch.heading_row + 1):
        if row.number in said:
            wrong, advice = said[row.number]
            lines.append(["; ".join(wrong), " ".join(advice), *(cell.text for cell in row.cells)])
    return [[harmless(text) for text in line] for line in lines]


def state_words(batch: Batch) -> str:
    """What the table waits for, in one sentence."""
    counts = batch.counts
    if has_failed(batch):
        return "The last job did not end well; nothing was kept halfway."
    if batch.state == BatchState.ARRIVED:
        return (
            "Say which column is which, then have every row checked. Nothing is taken in before you say so."
        )
    if batch.state == BatchState.CHECKED:
        return (
            f"{many(counts['exam'], 'exam')} with {many(counts['readings'], 'reading')} can come in, "
            f"{many(counts['refused'], 'row')} cannot. Nothing has been taken in yet."
        )
    if batch.state == BatchState.IMPORTED:
        return f"Taken in: {many(counts['exam'], 'exam')} with {many(counts['readings'], 'reading')}."
    if batch.state == BatchState.TAKEN_BACK:
        return f"Taken back: {batch.taken_back_because}. Nothing of it is on record any more."
    return f"This table is {batch.get_state_display()}."


def _preview_line(draft: Draft) -> PreviewLine:
    name = f"{draft.given_name} {draft.family_name}".strip()
    readings = tuple(
        f"{place_words(place.side, place.site, place.attempt)}: "
        f"{reading_shown(value.outcome, value.pressure_mmhg, value.reason, value.reason_text)}"
        for place, value in draft.readings
    )
    problems = tuple(f"{one.column}: {one.reason}" if one.column else one.reason for one in draft.problems)
    return PreviewLine(
        draft.row, f"{draft.identifier} {name}".strip(), draft.born, draft.on, readings, problems
    )


def _heading(name: str, place: int) -> str:
    return name[:80] or f"column {place + 1}"


def _fitting(head: TableHead, templates: list[MappingTemplate]) -> MappingTemplate | None:
    """The template all of whose headings stand in this table; of several, the one with the most."""
    there = {key(heading) for heading in head.headings}
    fitting = [one for one in templates if one.columns and {key(name) for name in one.columns} <= there]
    return max(fitting, key=lambda one: len(one.columns), default=None)
