"""One visit from booking to report, told through the services."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID, uuid5

from access import clock
from access.people import Person
from exams.patients.models import Patient
from exams.visits import services as visits
from exams.visits.agreement.queries import may_repeat
from exams.visits.agreement.services import record_repeat
from exams.visits.further.models import FurtherTest
from exams.visits.further.services import FurtherTyped, save_further
from exams.visits.models import Exam, HandOver, Reading
from exams.visits.plan import Place
from exams.visits.queries.exams import hand_over_for, open_hand_overs
from exams.visits.queries.remarks import remarks_of
from exams.visits.typed import TypedReading, read_preparation, read_reading
from reports.documents.queries import draft_for
from reports.documents.services import make_report
from vaslab.demo import recordings
from vaslab.demo.staff import ON_CALL
from vaslab.demo.story import Corrected, Exercised, Recorded, ToldTo, Visit
from vaslab.demo.written import as_typed, place_of, place_said, places

# A fixed namespace: what is typed or recorded has the same number of its maker on every machine.
_ENTRIES = UUID("5d6d1f5e-0f5c-4c53-9c34-3d1a3f0c9b11")
# What was reported before is on paper: the worker would print for minutes after the first start.
PRINTED_SINCE_WEEKS = 110
# Who hears of what becomes urgent by a fact recorded later.
AT_ONCE = ToldTo(
    ON_CALL,
    "vascular surgeon on call",
    "01555 010 900",
    6,
    "the limb, its newest pressures and what was found today",
    "Seen within the day at the hospital",
)


@dataclass(frozen=True)
class Staffed:
    measurer: Person
    reporter: Person


def tell_visit(visit: Visit, patient: Patient, staff: Staffed, *, ahead: timedelta, referrer: str) -> None:
    """The visit that begins at the present moment of the clock; ``ahead`` is how long it was booked for."""
    exam = visits.book_exam(
        patient=patient,
        exam_type=visit.exam_type,
        booked_for=clock.now() + ahead,
        indication=visit.indication,
        indication_text=visit.indication_text,
        referrer=referrer,
        by=staff.measurer,
    )
    if visit.ends != "booked":
        _Told(visit, exam, staff).tell()


def hand_over_open_slips(patient: Patient, staff: Staffed, told: ToldTo = AT_ONCE) -> None:
    """Somebody is told of every slip of the patient that is still open, and it is closed."""
    by = staff.measurer
    for line in open_hand_overs(by, patient):
        slip = hand_over_for(by, line.id)
        moment = slip.raised_at + timedelta(minutes=told.minutes)
        with clock.at(max(moment, clock.now())):
            visits.close_hand_over(
                slip=slip,
                told_name=told.name,
                told_role=told.role,
                told_number=told.number,
                told_by=by.user,
                told_at=moment,
                read_back=told.read_back,
                agreed=told.agreed,
                patient_told="yes",
                by=by,
            )


class _Told:
    """One exam that began, from identity on."""

    def __init__(self, visit: Visit, exam: Exam, staff: Staffed) -> None:
        self.visit, self.exam, self.staff, self.by = visit, exam, staff, staff.measurer
        # Of the person's own number, which does not depend on what else is told.
        self.number = exam.patient.identifiers_in_use[0].value
        self.start = clock.now()
        self.at = self.start + timedelta(minutes=6 + visit.rest_minutes)

    def tell(self) -> None:
        visit, exam = self.visit, self.exam
        if visit.ends == "not_attended":
            with clock.at(self.start + timedelta(minutes=40)):
                visits.not_attended(exam=exam, because=visit.why, by=self.by)
            return
        with clock.at(self.start + timedelta(minutes=6)):
            visits.confirm_identity(exam=exam, how="stated", by=self.by)
            visits.lie_flat(exam=exam, by=self.by)
        if visit.ends == "resting":
            return
        with clock.at(self.start + timedelta(minutes=8)):
            visits.confirm_cautions(exam=exam, by=self.by)
        self._measure()
        if visit.exercise:
            self._exercise(visit.exercise)
        if visit.ends != "measuring":
            self._close()

    def _measure(self) -> None:
        """Place by place where the sheet grows on the screen, else the whole sheet at once."""
        noted = [
            visits.Noted(item, read_preparation(typed, item), self._entry(item))
            for item, typed in self._conditions().items()
        ]
        if not self.visit.recorded:
            filled = list(self._filled())
            with clock.at(self.at):
                visits.record_sheet(exam=self.exam, noted=noted, filled=filled, by=self.by)
            return
        with clock.at(self.start + timedelta(minutes=8)):
            visits.record_sheet(exam=self.exam, noted=noted, filled=[], by=self.by)
        self._place_by_place()

    def _conditions(self) -> dict[str, str]:
        right, left = self.visit.toes_celsius.split()
        told = {
            "position": self.visit.position,
            "right_toe_celsius": right,
            "left_toe_celsius": left,
            "cuffs_cleaned": "yes",
        }
        return told if self.visit.exam_type == "toe_only" else {**told, "first_arm": "right"}

    def _filled(self) -> Iterator[visits.Filled]:
        for place, typed in places(self.visit):
            # A protected arm was filled in by the cautions.
            if typed != "-arm_protected":
                self._pass(place)
                yield visits.Filled(
                    place, _read(place, typed), self._technique(place), self._entry(place.name), self.at
                )

    def _place_by_place(self) -> None:
        recorded = list(self.visit.recorded)
        for place, typed in places(self.visit):
            here = [one for one in recorded if place_of(one) == place]
            recorded = [one for one in recorded if one not in here]
            given = [self._record(one, typed) for one in here]
            # What a marked recording gave stands in the sheet.
            if not any(given) and typed != "-arm_protected":
                self._type(place, typed)
        for one in recorded:
            self._record(one, "")

    def _pass(self, place: Place) -> None:
        self.at += timedelta(seconds=50 if place.site.startswith("toe") else 35)

    def _technique(self, place: Place) -> str:
        return self.visit.technique if place.site.startswith("toe") else "doppler"

    def _type(self, place: Place, typed: str) -> None:
        self._pass(place)
        with clock.at(self.at):
            visits.record_reading(
                exam=self.exam,
                place=place,
                value=_read(place, typed),
                technique=self._technique(place),
                client_id=self._entry(place.name),
                seen_revision=0,
                by=self.by,
            )

    def _record(self, told: Recorded, reading: str) -> bool:
        """Record a toe; whether that put its reading into the sheet."""
        self.at += timedelta(seconds=140)
        with clock.at(self.at):
            trace = recordings.take(
                told=told,
                exam=self.exam,
                place=place_of(told),
                technique=self.visit.technique,
                reading=reading,
                key=str(self._entry(f"{told.place} {told.seed}")),
                by=self.by,
            )
        if told.second:
            with clock.at(self.at + timedelta(minutes=40)):
                recordings.read_blind(trace, told.second, self.staff.reporter)
        return not (told.waits or told.refused)

    def _exercise(self, told: Exercised) -> None:
        values = {
            "protocol": "treadmill",
            "speed_kmh": told.speed_kmh,
            "grade_percent": told.grade_percent,
            "duration": told.walked,
            "completed": told.completed,
            "symptom": told.symptom,
            "symptom_at": told.symptom_at,
        }
        for number, written in enumerate(told.after, start=1):
            names = ("time", "arm", "right", "left")
            values |= {
                f"after.{number}.{name}": one for name, one in zip(names, written.split(), strict=True)
            }
        self.at += timedelta(minutes=12)
        with clock.at(self.at):
            for name, typed in values.items():
                if typed:
                    entry = FurtherTyped(name, typed, self._entry(f"exercise {name}"), 0)
                    save_further(exam=self.exam, test=FurtherTest.EXERCISE, entry=entry, by=self.by)

    def _close(self) -> None:
        visit, exam = self.visit, self.exam
        with clock.at(self.at + timedelta(minutes=2)):
            if visit.answers:
                for remark in remarks_of(exam):
                    if remark.is_open:
                        visits.answer_remark(exam=exam, remark=remark, answer=visit.answers, by=self.by)
            if visit.told:
                hand_over_open_slips(exam.patient, self.staff, visit.told)
            if visit.ends == "stopped":
                visits.stop_exam(exam=exam, because=visit.why, by=self.by)
                return
        with clock.at(self.at + timedelta(minutes=14)):
            visits.finish_measuring(exam=exam, by=self.by)
        if visit.corrected:
            with clock.at(self.at + timedelta(minutes=32)):
                self._correct(visit.corrected)
        with clock.at(self.at + timedelta(hours=3)):
            if visit.ends == "report" and visit.weeks <= PRINTED_SINCE_WEEKS:
                self._report()
            elif visit.ends in ("report", "reported"):
                visits.mark_reported(exam=exam, by=self.staff.reporter)
            if visit.repeats:
                self._repeat(visit.repeats)

    def _repeat(self, study: str) -> None:
        record_repeat(
            exam=self.exam,
            first=may_repeat(self.exam)[0],
            study=study,
            recuffed_by=self.by.user,
            recuffed=True,
            by=self.by,
        )

    def _correct(self, told: Corrected) -> None:
        place = place_said(told.place)
        reading = Reading.objects.select_related("exam").get(
            exam=self.exam, side=place.side, site=place.site, attempt=place.attempt
        )
        visits.correct_reading(
            reading=reading,
            value=_read(place, told.typed),
            technique=reading.technique,
            reason=told.reason,
            by=self.by,
        )
        if told.in_error:
            for slip in HandOver.objects.filter(exam=self.exam, closed_at=None):
                visits.close_as_raised_in_error(slip=slip, because=told.in_error, by=self.by)

    def _report(self) -> None:
        reporter = self.staff.reporter
        draft = draft_for(reporter, self.exam.pk)
        # The worker prints it after the start: printing here would triple the wait for the first page.
        make_report(
            exam=self.exam, conclusion=draft.drafted, drafted=draft.drafted, seen=draft.seen, by=reporter
        )

    def _entry(self, name: str) -> UUID:
        return uuid5(_ENTRIES, f"{self.number} {self.exam.booked_for.isoformat()} {name}")


def _read(place: Place, typed: str) -> TypedReading:
    value = read_reading(as_typed(typed), place.site)
    if value is None:
        raise ValueError(f"nothing is told at {place.name}")
    return value
