"""What the page of one further test shows, as frozen values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

from access.people import Person
from access.permissions import allowed
from exams.hemodynamics import NotStated, Outcome, Side, SiteReading, reasons_not_to_exercise
from exams.patients.models import FactKind
from exams.visits.further.catalogue import ASKS, MODIFIERS, TIMES_SHOWN, Ask
from exams.visits.further.checks import lock_of
from exams.visits.further.findings import NOT_TAKEN, Values, resting, waveform_of
from exams.visits.further.models import FurtherEntry, FurtherTest
from exams.visits.further.queries import rows_of
from exams.visits.further.tables import FurtherTable, tables_of, title_of
from exams.visits.further.typed import note_of, shown_of, typed_of
from exams.visits.models import Exam
from exams.visits.plan import DONE_STATES, OPEN_STATES
from exams.visits.queries.chart import Chart, chart_of
from exams.visits.queries.results import stored_interpretation
from exams.visits.queries.sheet import banner_of
from exams.visits.sheet import Banner, Choice, Past
from exams.visits.wording import reading_shown

HOW: Mapping[str, str] = {
    FurtherTest.EXERCISE: "Say what was done, then a row each time: minutes since the end, arm, both ankles.",
    FurtherTest.SEGMENTS_4: "Two narrow cuffs at the thigh, one at the calf, one at the ankle.",
    FurtherTest.SEGMENTS_3: "One wide cuff at the thigh, one at the calf, one at the ankle.",
    FurtherTest.WAVEFORMS: "Write your own word, or choose the terms; your word is kept beside them.",
    FurtherTest.PULSE_VOLUME: "Choose the shape you see; the height in mm is not used.",
    FurtherTest.OXYGEN: "Say where the reference probe is, then type each pressure.",
    FurtherTest.CATEGORY: "A clinician enters the category; it is checked against what was measured.",
}


@dataclass(frozen=True)
class FurtherField:
    """One value: as typed, as read out, and what is said about it. `open`: it may be typed here and now."""

    name: str
    label: str
    spoken: str
    kind: str
    unit: str
    typed: str
    shown: str
    note: str
    row_id: int
    at: datetime | None
    choices: tuple[Choice, ...]
    history: tuple[Past, ...]
    open: bool
    optional: bool = False
    locked: str = ""
    error: str = ""
    # What the page of corrections asks of a field of the sheet.
    site: str = ""

    @property
    def is_corrected(self) -> bool:
        """Whether an earlier value was corrected with a reason, and not only retyped while measuring."""
        return any(past.why for past in self.history)


@dataclass(frozen=True)
class Section:
    """Fields under one heading. `side`: it stands on that side of the page. `row`: one line of a series."""

    title: str
    side: str
    row: bool
    folded: bool
    fields: tuple[FurtherField, ...]


@dataclass(frozen=True)
class FurtherPage:
    exam_id: int
    test: str
    title: str
    how: str
    booked_for: datetime
    patient: Banner
    state_label: str
    editable: bool
    needs_reason: bool
    warnings: tuple[str, ...]
    codes: tuple[Choice, ...]
    sections: tuple[Section, ...]
    table: FurtherTable | None

    @property
    def fields(self) -> tuple[FurtherField, ...]:
        return tuple(field for section in self.sections for field in section.fields)

    @property
    def is_category(self) -> bool:
        return self.test == FurtherTest.CATEGORY

    def field(self, name: str) -> FurtherField | None:
        return next((one for one in self.fields if one.name == name), None)


def page_of(person: Person, exam: Exam, test: FurtherTest) -> FurtherPage:
    """The page of one test of an exam already read for this person; a fixed number of queries."""
    chart, rows, found = chart_of(exam), rows_of(exam), stored_interpretation(exam)
    mine = rows.get(test, {})
    values = {name: entries[-1].value for name, entries in mine.items() if entries[-1].value}
    is_category = test == FurtherTest.CATEGORY
    may = allowed(person, "enter category" if is_category else "measure")
    done = exam.state in DONE_STATES
    editable = may and (exam.state in OPEN_STATES or (is_category and done))
    sections: dict[str, list[FurtherField]] = {}
    asked: dict[str, Ask] = {}
    for ask in ASKS[test].values():
        if _is_gone(chart, ask) and ask.name not in values:
            continue
        field = _field(chart, ask, mine.get(ask.name, ()), values, editable)
        # What stands once the exam is measured is corrected with a reason.
        if done and field.typed:
            field = replace(field, open=False)
        sections.setdefault(ask.group, []).append(field)
        asked.setdefault(ask.group, ask)
    return FurtherPage(
        exam_id=exam.pk,
        test=test.value,
        title=title_of(test),
        how=HOW[test],
        booked_for=exam.booked_for,
        patient=banner_of(exam.patient, chart.on),
        state_label=str(exam.get_state_display()),
        editable=editable,
        needs_reason=done and may,
        warnings=_warnings(chart, test, values),
        codes=tuple(Choice(str(number), words) for number, words in enumerate(MODIFIERS.values(), start=1))
        if test == FurtherTest.WAVEFORMS
        else (),
        sections=tuple(_section(title, asked[title], fields) for title, fields in sections.items()),
        table=next((one for one in tables_of(rows, found) if one.test == test), None),
    )


def more_tests_of(exam: Exam) -> tuple[tuple[FurtherTest, str, FurtherTable | None], ...]:
    """Every test with its title, and its table where it was done; two queries."""
    tables = {one.test: one for one in tables_of(rows_of(exam), stored_interpretation(exam))}
    return tuple((test, title_of(test), tables.get(test)) for test in FurtherTest)


def typed_again(page: FurtherPage, typed: Mapping[str, str], errors: Mapping[str, str]) -> FurtherPage:
    """The page with what was typed still in its fields, and the words at each field that was refused."""

    def again(field: FurtherField) -> FurtherField:
        if field.name not in errors:
            return field
        return replace(field, typed=typed.get(field.name, field.typed), error=errors[field.name])

    return replace(
        page,
        sections=tuple(
            replace(section, fields=tuple(again(field) for field in section.fields))
            for section in page.sections
        ),
    )


def _field(
    chart: Chart, ask: Ask, rows: Sequence[FurtherEntry], values: Values, editable: bool
) -> FurtherField:
    newest = rows[-1] if rows else None
    value = newest.value if newest else ""
    return FurtherField(
        name=ask.name,
        label=ask.label,
        spoken=ask.spoken,
        kind=ask.kind,
        unit=ask.unit,
        typed=typed_of(value, ask),
        shown=shown_of(value, ask),
        note=_question(ask, values) or _note(value, ask),
        row_id=newest.pk if newest else 0,
        at=newest.typed_at if newest and value else None,
        choices=_choices(ask),
        history=tuple(
            Past(
                shown_of(old.value, ask) or "empty",
                old.entered_by.full_name,
                old.typed_at,
                new.replaced_because,
            )
            for old, new in pairwise(rows)
        ),
        open=editable,
        optional=ask.optional,
        locked=lock_of(chart, ask, values),
    )


def _choices(ask: Ask) -> tuple[Choice, ...]:
    if ask.kind != "choice":
        return ()
    return tuple(
        Choice(code, f"{code if code.isdecimal() else number} {words}")
        for number, (code, words) in enumerate(ask.choices.items(), start=1)
    )


def _note(value: str, ask: Ask) -> str:
    if ask.kind == "pressure" and value and not value[0].isdigit():
        return shown_of(value, ask)
    return note_of(value, ask)


def _question(ask: Ask, values: Values) -> str:
    """What the measurer's own word for a waveform leaves open."""
    if not ask.name.endswith(".word") or not values.get(ask.name):
        return ""
    side, artery, _ = ask.name.split(".")
    waveform = waveform_of(values, Side(side), artery)
    if not isinstance(waveform, NotStated):
        return ""
    choose = "" if "choose" in waveform.reason else " Choose the phasicity."
    return f"{waveform.reason}{choose}"


def _is_gone(chart: Chart, ask: Ask) -> bool:
    side = ask.side or ask.name.rpartition(".")[2]
    if ask.name.endswith(".artery"):
        side = ask.name.partition(".")[0]
    if side not in chart.limbs or not ask.parts:
        return False
    return all(chart.limbs[side].is_lost(part) for part in ask.parts)


def _section(title: str, ask: Ask, fields: Sequence[FurtherField]) -> Section:
    number = ask.name.split(".")[1] if ask.name.startswith("after.") else ""
    extra = ask.name.startswith("rest.") or (number.isdecimal() and int(number) > TIMES_SHOWN)
    return Section(
        title=title,
        side=ask.side,
        row=bool(number) or ask.name.startswith("rest."),
        folded=extra and not any(field.typed for field in fields),
        fields=tuple(fields),
    )


def _warnings(chart: Chart, test: FurtherTest, values: Values) -> tuple[str, ...]:
    """What speaks against the test or a cuff of it, and what it is measured against."""
    words = []
    if test == FurtherTest.EXERCISE:
        kinds = {fact.kind for fact in chart.facts}
        against = reasons_not_to_exercise(
            plantar_ulcer=FactKind.OPEN_WOUND in kinds,
            active_charcot=FactKind.CHARCOT in kinds,
            rest_pain=FactKind.REST_PAIN in kinds,
        )
        words += [f"Caution: on record is {one}. Ask before this person walks." for one in against]
        words += [f"At rest, {_at_rest(values, chart, side)}" for side in Side]
    if test in (FurtherTest.SEGMENTS_3, FurtherTest.SEGMENTS_4, FurtherTest.PULSE_VOLUME):
        words += [
            f"Caution: {side.word} {cuff.words}: {said}"
            for side in Side
            for cuff, said in chart.limbs[side].cuff_warnings.items()
        ]
    return tuple(words)


def _at_rest(values: Values, chart: Chart, side: Side) -> str:
    rest = resting(values, chart, side)
    if NOT_TAKEN in (rest.ankle, rest.arm):
        return f"{side.word}: no ankle or arm pressure of this exam yet; the fall needs both."
    ankle, arm = (_pressure_words(one) for one in (rest.ankle, rest.arm))
    both = rest.ankle.outcome is rest.arm.outcome is Outcome.PRESSURE
    then = "measure the same again" if both else "no fall can be found here without both pressures"
    return f"{side.word} {rest.artery.words} {ankle}, {rest.arm_side.word} arm {arm}: {then}."


def _pressure_words(reading: SiteReading) -> str:
    """ "132 mmHg"; the cuff pressure of an artery that could not be occluded never reads as its pressure."""
    if reading.outcome is Outcome.NOT_OBTAINED:
        return "not obtained"
    mmhg = None if reading.half_mmhg is None else Decimal(reading.half_mmhg) / 2
    return reading_shown(reading.outcome, mmhg, "", "")
