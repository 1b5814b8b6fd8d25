"""What the exam sheet shows, as frozen values. Built by `queries.sheet_for`, drawn by `templates/visits`.

Units are in the names; times are aware UTC (a template shows them in the clinic's zone).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from exams.hemodynamics import ExpectedRange, Finding
from exams.visits.ladder import Ladder


@dataclass(frozen=True)
class Choice:
    """One answer a person may pick."""

    value: str
    words: str


@dataclass(frozen=True)
class Reason:
    """One reason why a site has no reading; `-number` is what is typed for it."""

    number: int
    code: str
    words: str


@dataclass(frozen=True)
class Remark:
    """One soft question about one fact. `answer` is empty until someone has answered it."""

    code: str
    words: str
    field: str
    answer: str = ""

    @property
    def is_open(self) -> bool:
        return not self.answer


@dataclass(frozen=True)
class Past:
    """A value that stood here before."""

    shown: str
    who: str
    when: datetime
    why: str


# A pressure as it is typed; anything else at a field (no signal, a reason) has no place in a range.
_A_PRESSURE = re.compile(r"\d{1,3}([.,]\d)?")


@dataclass(frozen=True)
class Expected:
    """The range expected at a field if nothing has changed; it holds for the technique it was measured by.

    `again`: the field is of a repeat, which does not say the range once more while it is empty.
    """

    today: ExpectedRange
    technique: str
    again: bool = False

    @property
    def shown(self) -> str:
        """ "41–63"."""
        return f"{self.today.low}–{self.today.high}"

    def where(self, typed: str, technique: str) -> str:
        """ "within", "below" or "above"; "other" by another technique; nothing where no pressure is typed."""
        if not _A_PRESSURE.fullmatch(typed.strip()):
            return ""
        if technique and technique != self.technique:
            return "other"
        return self.today.stands(Decimal(typed.strip().replace(",", ".")))

    @property
    def words(self) -> dict[str, str]:
        """What is said at the field, by `where`; "nothing" while no pressure is typed."""
        expected = f"{self.shown}, the range expected if nothing has changed"
        return {
            "nothing": "" if self.again else f"Expected today: {self.shown} mmHg if nothing has changed.",
            "within": f"Inside {expected}.",
            "below": f"Below {expected}.",
            "above": f"Above {expected}.",
            "other": f"Another technique than last time: not to be set against {self.shown}.",
        }


@dataclass(frozen=True)
class Field:
    """One thing that may be typed or chosen, and what stands there now.

    `name` is `side.site.attempt` for a reading, the item's name for preparation, the input's name in a step.
    `typed` is what the person would type to say the same again. `row_id` is the revision of the field
    (0: nothing stored). `locked` holds the words of the caution that forbids a cuff here, or nothing.
    `expected` is what a pressure typed here is set against, where the foot's earlier exams allow it.
    """

    name: str
    label: str
    kind: Literal["number", "choice", "text", "yes"]
    unit: str = ""
    typed: str = ""
    shown: str = ""
    row_id: int = 0
    at: datetime | None = None
    locked: str = ""
    lock_reason_needed: bool = False
    override: str = ""
    remark: Remark | None = None
    history: tuple[Past, ...] = ()
    choices: tuple[Choice, ...] = ()
    folded: bool = False
    planned: bool = False
    error: str = ""
    side: str = ""
    site: str = ""
    attempt: int = 0
    technique: str = ""
    expected: Expected | None = None

    @property
    def where(self) -> str:
        """Where what is typed stands against what is expected: a key of `Expected.words`."""
        return self.expected.where(self.typed, self.technique) if self.expected else ""

    @property
    def stands(self) -> str:
        """The same in words."""
        return self.expected.words[self.where or "nothing"] if self.expected else ""


@dataclass(frozen=True)
class Group:
    """Sites measured together with one technique and cuff, named `technique.<key>` and `cuff.<key>`.

    `cuff_mm` is the width in mm as typed last time at this foot, empty where it was never said. `lost` names
    sites that are not offered because they are gone, with what took them; `warnings` are said before a cuff
    is laid here.
    """

    key: str
    title: str
    side: str
    folded: bool
    technique: str
    techniques: tuple[Choice, ...]
    cuff_mm: str
    fields: tuple[Field, ...]
    lost: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Step:
    """One step of the exam's life. `offered`: it may be taken now. `fields`: what it asks for."""

    key: str
    label: str
    button: str
    done: bool
    offered: bool
    at: datetime | None = None
    by: str = ""
    words: str = ""
    fields: tuple[Field, ...] = ()
    error: str = ""


@dataclass(frozen=True)
class Rest:
    """The rest clock. `minutes` is the difference of the two stored times, or typed (`typed` True)."""

    lying_flat_at: datetime | None
    first_inflation_at: datetime | None
    minutes: int | None
    typed: bool


@dataclass(frozen=True)
class CautionLine:
    """A caution on record: where, why, whether a cuff is forbidden, and when it is to be reviewed."""

    side: str
    region: str
    words: str
    do_not_inflate: bool
    note: str
    source: str
    review_on: date | None
    review_due: bool


@dataclass(frozen=True)
class LastTime:
    """Where this foot was last time, and what to expect today if nothing has changed."""

    side: str
    exam_id: int
    on: date
    site: str
    shown: str
    technique: str
    toe_celsius: Decimal | None
    expected_low_mmhg: int | None
    expected_high_mmhg: int | None
    sentence: str
    expected: Expected | None = None


@dataclass(frozen=True)
class LimbFindings:
    """The findings of one limb, or of the whole exam (`side` empty)."""

    side: str
    title: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class HandOverLine:
    """A person must be told: the slip's line on the sheet and on Today."""

    id: int
    exam_id: int
    patient_id: int
    patient_name: str
    side: str
    sentence: str
    raised_at: datetime
    due_at: datetime | None
    closed_at: datetime | None
    in_error: bool
    value_changed: str
    attempts: int
    taken_over: bool = False
    reads_urgent: bool = True

    @property
    def is_open(self) -> bool:
        return self.closed_at is None

    @property
    def reads(self) -> str:
        """What the limb reads now; `was` holds the words it was raised with, where those are others."""
        return self.value_changed or self.sentence

    @property
    def was(self) -> str:
        return self.sentence if self.value_changed else ""

    @property
    def calls(self) -> str:
        """What is to be done about it, before what it reads."""
        return "A person must be told." if self.reads_urgent else "A hand-over slip is still open."

    @property
    def is_due_at_once(self) -> bool:
        return self.due_at is None or self.due_at <= self.raised_at

    def is_overdue(self, now: datetime) -> bool:
        return self.due_at is not None and self.due_at < now


@dataclass(frozen=True)
class Banner:
    """Whose exam this is, on every page of it."""

    patient_id: int
    name: str
    birth_date: date
    age: int
    sex: str
    identifiers: tuple[str, ...]
    diabetes: str
    kidney_disease: str


@dataclass(frozen=True)
class Progress:
    """How many planned sites have a reading or a reason, and the words for those that have not."""

    done: int
    planned: int
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """The whole exam sheet of one exam, for one person."""

    id: int
    type_label: str
    state: str
    state_label: str
    booked_for: datetime
    indication: str
    limited: bool
    entered_later: bool
    imported_from: str
    closed_because: str
    patient: Banner
    sentence: str
    editable: bool
    needs_reason: bool
    may_override: bool
    steps: tuple[Step, ...]
    rest: Rest
    cautions: tuple[CautionLine, ...]
    groups: tuple[Group, ...]
    preparation: tuple[Field, ...]
    last_time: dict[str, LastTime]
    findings: tuple[LimbFindings, ...]
    ladders: tuple[Ladder, ...]
    criteria: str
    remarks: tuple[Remark, ...]
    hand_overs: tuple[HandOverLine, ...]
    progress: Progress
    report_url: str
    # The exam of another person that this one was entered again from; 0 for nearly all.
    first_entry: int
    may_correct_identity: bool

    @property
    def done(self) -> tuple[Step, ...]:
        """The steps taken before the first cuff."""
        ends = ("measured", "not_attended", "stopped")
        return tuple(step for step in self.steps if step.done and step.key not in ends)

    @property
    def to_lie_flat(self) -> Step | None:
        return next((step for step in self.steps if step.key == "lying_flat" and step.offered), None)

    @property
    def to_change_why(self) -> Step | None:
        """The reason of the test, which may still be changed once it is given."""
        return next((one for one in self.steps if one.key == "indication" and one.done and one.offered), None)

    @property
    def questions(self) -> tuple[Step, ...]:
        """What is asked while the person rests."""
        asked = ("identity", "indication", "cautions")
        return tuple(step for step in self.steps if step.key in asked and step.offered and not step.done)

    @property
    def to_finish(self) -> Step | None:
        """The end of measuring, said also while it may not be reached yet."""
        return next(
            (one for one in self.steps if one.key == "measured" and (one.offered or self.editable)), None
        )

    @property
    def other_ends(self) -> tuple[Step, ...]:
        """What may happen instead, and opening it again."""
        ends = ("not_attended", "stopped", "reopen")
        return tuple(step for step in self.steps if step.key in ends and step.offered)

    @property
    def refused(self) -> tuple[Field, ...]:
        """Fields whose value was not stored."""
        readings = (field for group in self.groups for field in group.fields)
        return tuple(field for field in (*self.preparation, *readings) if field.error)

    @property
    def is_done(self) -> bool:
        return self.state in ("measured", "reported")


def typed_again(sheet: Sheet, typed: Mapping[str, str], errors: Mapping[str, str]) -> Sheet:
    """The sheet with what was typed still in its fields, and the words at each field that was refused."""

    def again(field: Field) -> Field:
        if field.name not in errors:
            return field
        return replace(field, typed=typed.get(field.name, field.typed), error=errors[field.name])

    return replace(
        sheet,
        groups=tuple(
            replace(group, fields=tuple(again(field) for field in group.fields)) for group in sheet.groups
        ),
        preparation=tuple(again(field) for field in sheet.preparation),
    )


def step_refused(sheet: Sheet, key: str, typed: Mapping[str, str], errors: Mapping[str, str]) -> Sheet:
    """The sheet with one step's inputs as typed; words at its fields, those of no field at the step."""

    def again(step: Step) -> Step:
        if step.key != key:
            return step
        names = {field.name for field in step.fields}
        fields = tuple(
            replace(field, typed=typed.get(field.name, ""), error=errors.get(field.name, ""))
            for field in step.fields
        )
        rest = " ".join(words for name, words in errors.items() if name not in names)
        return replace(step, fields=fields, error=rest, offered=True)

    return replace(sheet, steps=tuple(again(step) for step in sheet.steps))
