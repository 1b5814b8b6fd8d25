"""What becomes of each draft: taken in, known already, or refused with the reason. Stores nothing."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum
from functools import partial
from hashlib import sha256
from itertools import islice

from access.models import Clinic
from exams.hemodynamics import Context, Criteria, MeasuredExam, Side, indices_of_many
from exams.patients import matching
from exams.patients.models import EARLIEST_BIRTH, Patient
from exams.patients.typed_date import written
from exams.visits.models import Exam, ExamState, PreparationItem
from exams.visits.plan import ANKLE_SITES
from exams.visits.queries.chart import INFLATED, Chart, context_of, fact_counts, measured_exam
from reports.exchange.columns import Mapping
from reports.exchange.draft import Draft, Problem, comment_of
from reports.exchange.drafts import DraftReader
from reports.exchange.queries.known import (
    FLOW,
    Known,
    KnownExam,
    births_meant,
    known_of,
    looks_like,
    same_readings,
)
from reports.exchange.rows import Standing, StandingCondition
from reports.exchange.scratch import Memory, Seen
from reports.exchange.sheets import Row

BLOCK = 400
SIDE_OF_SIGN = {"r": "right", "l": "left"}
# Nobody wrote the time of day: noon stands for it, so that the day is the same in every zone of the clinic.
NOON = time(12)


class Fate(StrEnum):
    """What becomes of a draft."""

    EXAM = "exam"
    PERSON = "person"
    NOTHING = "nothing"
    DUPLICATE = "duplicate"
    REFUSED = "refused"


@dataclass(slots=True)
class Judged:
    """A draft with its fate. `patient` is None for somebody new; `first_row` is where they first stand."""

    draft: Draft
    fate: Fate
    patient: Patient | None = None
    is_new_person: bool = False
    known: tuple[KnownExam, ...] = ()
    chart: Chart | None = None

    @property
    def is_taken(self) -> bool:
        return self.fate in (Fate.EXAM, Fate.PERSON)


class Judge:
    """Goes through a table once, block by block.

    Parameters
    ----------
    clinic : whose record it comes into.
    mapping : which column is which.
    today : the day in the clinic's zone.
    index_rule : criteria by which an index typed in the table is compared with its own pressures; None where
        that was done already.
    whole : what an earlier pass over the same table saw, so that exams further down are known. With it each
        exam gets its chart; without it only those with a typed index to compare.
    """

    def __init__(
        self,
        clinic: Clinic,
        mapping: Mapping,
        today: date,
        index_rule: Criteria | None,
        whole: Memory | None = None,
    ) -> None:
        self.clinic, self.mapping, self.index_rule = clinic, mapping, index_rule
        self.reader = DraftReader(mapping, today)
        self.memory = Memory()
        self.whole, self.with_charts = whole or self.memory, whole is not None
        self._fates = sha256()
        self.seen = Seen()
        self.counts: Counter[str] = Counter()

    def judged(self, rows: Iterable[Row]) -> Iterator[list[Judged]]:
        """Every draft with its fate, a block at a time."""
        drafts = self.reader.drafts(rows)
        while block := list(islice(drafts, BLOCK)):
            options = self.mapping.options
            known = known_of(self.clinic, options.issuer, block, names=not options.subjects)
            self.seen = self.memory.of(
                exams={_exam_number(draft) for draft in block},
                people={hash(draft.identifier_key) for draft in block},
                names={_name_number(draft) for draft in block},
            )
            found = [self._judge(draft, known) for draft in block]
            if self.index_rule is not None:
                reported = [one for one in found if one.fate is Fate.EXAM and one.draft.reported]
                self._compare_indices(reported, self.index_rule)
            for one in found:
                self._count(one)
                number = one.patient.pk if one.patient is not None else ""
                self._fates.update(f"{one.draft.row} {one.fate} {number}\n".encode())
            self.memory.know(one.patient.pk for one in found if one.is_taken and one.patient is not None)
            self.memory.keep(self.seen)
            yield found

    @property
    def fates(self) -> str:
        """What became of every draft so far, as one number: equal for equal fates of the same rows."""
        return self._fates.hexdigest()

    def moment(self, on: date) -> datetime:
        return datetime.combine(on, NOON, tzinfo=self.clinic.zone)

    # ---- one draft

    def _judge(self, draft: Draft, known: Known) -> Judged:
        number = draft.identifier_key
        patient = known.people.get(number)
        one = Judged(draft, Fate.REFUSED, patient)
        if number:
            self._person(one, known)
        if draft.on is not None and draft.has_exam and number:
            self._day(one, known)
        if draft.is_grave:
            return one
        if one.fate is Fate.DUPLICATE:
            return one
        if draft.has_exam and draft.on is not None:
            one.fate = Fate.EXAM
            one.is_new_person = patient is None
            if patient is not None:
                one.known = tuple(known.exams.get(patient.pk, ()))
            if self.with_charts or draft.reported:
                one.chart = self._chart(one, known, draft.on)
        else:
            one.fate = Fate.NOTHING if patient is not None else Fate.PERSON
            one.is_new_person = patient is None
        if one.fate is Fate.NOTHING:
            _say(draft, "", "", "no pressure in this row", "Nothing of it is taken in.", grave=False)
        return one

    def _person(self, one: Judged, known: Known) -> None:
        draft, patient = one.draft, one.patient
        if patient is not None:
            if (
                draft.born is not None
                and patient.birth_date != draft.born
                and not self.mapping.options.subjects
            ):
                _say(
                    draft,
                    self._heading("birth_date"),
                    written(draft.born),
                    f"the record with this identifier was born on {written(patient.birth_date)}",
                    "Check the identifier and the birth date; mend the wrong one, here or in the record.",
                )
            elif (
                draft.family_name and draft.name_key != patient.name_key and not self.mapping.options.subjects
            ):
                _say(
                    draft,
                    self._heading("family_name"),
                    f"{draft.given_name} {draft.family_name}".strip(),
                    "the record with this identifier and birth date has another name",
                    "Taken as the same person. Look at the record if that cannot be.",
                    grave=False,
                )
            if patient.died_on and draft.on and draft.on > patient.died_on:
                _say(
                    draft,
                    self._heading("exam_date"),
                    written(draft.on),
                    f"this person died on {written(patient.died_on)}",
                    "Check the exam's day; if the day of death is wrong, mend it in the record first.",
                )
            return
        self._somebody_new(draft, known)

    def _somebody_new(self, draft: Draft, known: Known) -> None:
        if self.mapping.options.subjects:
            self._same_throughout(draft)
            return
        column = self._heading("identifier")
        if draft.identifier_key in known.by_number:
            _say(
                draft, column, draft.identifier,
                "a record has this number from another issuer",
                "Say above who issued the numbers of this table, or add this identifier to that record.",
            )  # fmt: skip
            return
        if not (matching.words(draft.family_name) and draft.given_name):
            _say(
                draft, column, draft.identifier,
                "no record has this identifier, and the row does not name the person",
                "Write family name and given name, or mend the identifier.",
            )  # fmt: skip
            return
        near = known.by_name.get(draft.name_key, [])
        near = [*near, *(one for day in births_meant(draft.born) for one in known.by_birth.get(day, []))]
        if any(looks_like(draft, other) for other in near):
            _say(
                draft, column, draft.identifier,
                "no record has this identifier, but one looks like the same person",
                "If it is the same person, add this identifier to that record; if not, register this one by "
                "hand. Then check the table again.",
            )  # fmt: skip
            return
        self._same_throughout(draft)
        number = hash(draft.identifier_key)
        if self.seen.names.setdefault(_name_number(draft), number) != number:
            _say(
                draft, column, draft.identifier,
                "the same name and birth date stand in this table under another identifier",
                "One person or two? Give both rows one identifier, or register one of them by hand.",
            )  # fmt: skip

    def _same_throughout(self, draft: Draft) -> None:
        """One identifier is one person in the whole table."""
        who = hash((draft.born, draft.name_key))
        first = self.seen.people.setdefault(hash(draft.identifier_key), (who, draft.row))
        if first[0] != who:
            _say(
                draft, self._heading("identifier"), draft.identifier,
                f"row {first[1]} gives this identifier another name or birth date",
                "Check which is right.",
            )  # fmt: skip

    def _day(self, one: Judged, known: Known) -> None:
        draft = one.draft
        if draft.on is None:
            return
        held = hash(tuple(draft.readings))
        first, held_there = self.seen.exams.setdefault(_exam_number(draft), (draft.row, held))
        if first != draft.row and held == held_there:
            one.fate = Fate.DUPLICATE
            _say(draft, "", "", f"the same exam as in row {first}", "This row is left out.", grave=False)
            return
        if first != draft.row:
            _say(
                draft, self._heading("exam_date"), written(draft.on),
                f"row {first} is of the same person and day",
                "Put the rows of one exam together, or leave one of them out." if self.mapping.is_long
                else "One exam a row: join the two rows, or leave one of them out.",
            )  # fmt: skip
            return
        if one.patient is None:
            return
        for exam in known.exams.get(one.patient.pk, ()):
            if exam.at.astimezone(self.clinic.zone).date() != draft.on:
                continue
            if same_readings(exam.pk, draft):
                one.fate = Fate.DUPLICATE
                _say(draft, self._heading("exam_date"), written(draft.on), "this exam is on record already",
                     "It is not taken in again.", grave=False)  # fmt: skip
            else:
                _say(
                    draft, self._heading("exam_date"), written(draft.on),
                    "an exam of this person and day is on record, with other readings",
                    "Compare the two; leave this row out, or mend the day.",
                )  # fmt: skip
            return

    def _chart(self, one: Judged, known: Known, on: date) -> Chart:
        """The exam as it would stand on record: what the core reads it by."""
        draft = one.draft
        at = self.moment(on)
        patient = one.patient or self.new_patient(draft)
        exam = Exam(
            clinic=self.clinic,
            patient=patient,
            exam_type=self.reader.exam_type,
            state=ExamState.MEASURED,
            booked_for=at,
            indication=draft.indication,
            indication_text=draft.indication_text,
            measured_at=at,
            entered_later=True,
        )
        readings = tuple(
            Standing(place.side, place.site, place.attempt, value, self.reader.technique(place))
            for place, value in draft.readings
        )
        if any(row.inflated for row in readings):
            exam.first_inflation_at = at
        comment = comment_of(draft)
        said: dict[str, str] = {**draft.conditions, **({PreparationItem.COMMENT: comment} if comment else {})}
        facts = known.facts.get(one.patient.pk, []) if one.patient else []
        return Chart(
            exam=exam,
            on=on,
            readings=readings,  # type: ignore[arg-type]
            preparations=tuple(StandingCondition(*item) for item in said.items()),  # type: ignore[misc]
            cautions=tuple(
                caution
                for caution in (known.cautions.get(one.patient.pk, ()) if one.patient else ())
                if caution.in_force_on(on)
            ),
            facts=tuple(fact for fact in facts if fact_counts(fact, on, self._next_on(one, on))),
            # Of the draft and not of `one`, which holds this chart: a circle would wait to be collected.
            flows=partial(self._flow_before, draft, one.known, on),
            earlier=frozenset({0}),
        )

    def _flow_before(self, draft: Draft, known: tuple[KnownExam, ...], on: date) -> set[tuple[int, str]]:
        """Sides at whose ankle an earlier exam of the person found flow, on record or in the table."""
        sides: set[str] = set()
        at = self.moment(on)
        for exam in known:
            if exam.inflated and exam.at < at:
                sides |= exam.flow
        for day, found in self._days_of(draft):
            if day < on.toordinal():
                sides |= {SIDE_OF_SIGN[sign] for sign in found}
        return {(0, side) for side in sides}

    def _next_on(self, one: Judged, on: date) -> date | None:
        """The day of the person's next exam after this one, on record or in the table."""
        this = on.toordinal()
        days = [
            exam.at.astimezone(self.clinic.zone).date().toordinal() for exam in one.known if exam.inflated
        ]
        days += [day for day, _ in self._days_of(one.draft)]
        later = min((day for day in days if day > this), default=None)
        return date.fromordinal(later) if later is not None else None

    def _days_of(self, draft: Draft) -> list[tuple[int, str]]:
        return self.whole.days_of(hash(draft.identifier_key))

    def new_patient(self, draft: Draft) -> Patient:
        return Patient(
            clinic=self.clinic,
            family_name=draft.family_name,
            given_name=draft.given_name or "-",
            birth_date=draft.born or EARLIEST_BIRTH,  # a row without one was refused before
            sex=draft.sex,
            diabetes=draft.diabetes,
            kidney_disease=draft.kidney_disease,
        )

    def _compare_indices(self, block: Sequence[Judged], rule: Criteria) -> None:
        """An index typed in the table against what its own pressures give, to the hundredth."""
        with_readings = [one for one in block if one.draft.readings and one.chart is not None]
        if not with_readings:
            return
        charts = [one.chart for one in with_readings if one.chart is not None]
        exams: list[MeasuredExam] = [measured_exam(chart) for chart in charts]
        contexts: list[Context] = [context_of(chart) for chart in charts]
        found = indices_of_many(exams, rule, contexts)
        for row, one in enumerate(with_readings):
            for (measure, side), typed in one.draft.reported.items():
                ours = int(found.hundredths[measure, Side(side)][row])
                if ours >= 0 and ours != typed:
                    self._differs(one.draft, measure, side, typed, ours, rule)

    def _differs(self, draft: Draft, measure: str, side: str, typed: int, ours: int, rule: Criteria) -> None:
        name = f"{side}.{'abi' if measure.startswith('ankle') else 'tbi'}"
        _say(
            draft,
            self._heading(name),
            f"{typed // 100}.{typed % 100:02d}",
            f"its own pressures give {ours // 100}.{ours % 100:02d} by {rule.label}",
            "The pressures are taken in, not the index. Check them against the source.",
            grave=False,
        )

    def _count(self, one: Judged) -> None:
        draft, counts = one.draft, self.counts
        counts["drafts"] += 1
        counts[one.fate.value] += 1
        counts["remarks"] += sum(1 for problem in draft.problems if not problem.grave)
        counts["problems"] += sum(1 for problem in draft.problems if problem.grave)
        if one.fate is Fate.EXAM:
            counts["readings"] += len(draft.readings)
            self._remember_day(one)
        if one.is_taken:
            number = hash(draft.identifier_key)
            if one.is_new_person and number not in self.seen.new:
                self.seen.new.add(number)
                counts["new_people"] += 1

    def _remember_day(self, one: Judged) -> None:
        draft = one.draft
        sides = "".join(
            sorted(
                {p.side[0] for p, value in draft.readings if p.site in ANKLE_SITES and value.outcome in FLOW}
            )
        )
        if draft.on and any(value.outcome in INFLATED for _, value in draft.readings):
            self.seen.days[hash(draft.identifier_key)].append((draft.on.toordinal(), sides))

    def _heading(self, name: str) -> str:
        place = self.mapping.place(name)
        return self.mapping.headings[place] if place is not None else ""


def _exam_number(draft: Draft) -> int:
    return hash((draft.identifier_key, draft.on))


def _name_number(draft: Draft) -> int:
    return hash((draft.name_key, draft.born))


def _say(draft: Draft, column: str, value: str, reason: str, suggestion: str, *, grave: bool = True) -> None:
    draft.problems.append(Problem(draft.row, column, value[:80], reason, suggestion, grave))
