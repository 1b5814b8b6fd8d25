"""Tells the stories through the services, the way the staff would have done it, on the days it happened.

Deterministic: the same day gives the same record. Nothing here writes a row itself.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial
from uuid import UUID, uuid5

from access import clock
from access.models import Clinic, User
from access.people import Person, person_for
from access.services import (
    add_clinic,
    add_member,
    approve_role,
    create_first_administrator,
    grant_role,
    set_password_by_link,
)
from exams.identity.queries import to_decide
from exams.identity.services import merge_records
from exams.patients import services as patients
from exams.patients.models import Patient
from exams.patients.queries import patients_matching
from exams.visits import services as visits
from exams.visits.models import Exam
from exams.visits.plan import Place
from exams.visits.queries.exams import hand_over_for
from exams.visits.queries.remarks import remarks_of
from exams.visits.queries.sheet import sheet_for
from exams.visits.typed import read_preparation, read_reading
from reports.documents.queries import draft_for
from reports.documents.services import make_report
from vaslab.demo import recordings
from vaslab.demo.staff import CLINICS, PASSWORD, STAFF
from vaslab.demo.stories import STORIES
from vaslab.demo.story import CautionTold, Fact, Merged, Recorded, Story, Visit
from vaslab.demo.written import as_typed, place_of, places

# A fixed namespace: what is typed or recorded has the same number of its maker on every machine.
_ENTRIES = UUID("5d6d1f5e-0f5c-4c53-9c34-3d1a3f0c9b11")


@dataclass(frozen=True)
class Event:
    """Something that happened at a moment, in the order it is told."""

    at: datetime
    tell: Callable[[], None]


def tell_everything(now: datetime, say: Callable[[str], None], stories: tuple[Story, ...] = STORIES) -> None:
    """Make clinics, staff and ``stories`` as of ``now``; ``say`` is told each step."""
    say("clinics and staff")
    with clock.at(now - timedelta(weeks=420)):
        cast = _hire()
    for number, story in enumerate(stories):
        say(f"{story.given} {story.family}: {story.about}")
        _Teller(story, number, cast, now).tell()


def _hire() -> dict[str, User]:
    """Two people stand behind every clinical role: the system administrator grants, the clinic's approves."""
    system = next(one for one in STAFF if one.roles[0][0] == "system_administrator")
    first = create_first_administrator(email=system.email, full_name=system.name, password=PASSWORD)
    by = person_for(first)
    clinics = {
        name: add_clinic(
            name=name,
            address=address,
            phone="01555 010 000",
            time_zone="Europe/London",
            toes_first=False,
            by=by,
        )
        for name, address in CLINICS.items()
    }
    cast = {system.email: first}
    granted = []
    for one in STAFF:
        if one is system:
            continue
        user, token = add_member(email=one.email, full_name=one.name, by=by)
        set_password_by_link(token=token, password=PASSWORD)
        cast[one.email] = user
        granted += [grant_role(user=user, clinic=clinics[str(c)], role=role, by=by) for role, c in one.roles]
    lode = next(one for one in STAFF if one.roles[0][0] == "administrator")
    for membership in granted:
        if not membership.in_force:
            clinic = membership.clinic
            approve_role(
                membership=membership, by=person_for(cast[lode.email], clinic.pk if clinic else None)
            )
    return cast


class _Teller:
    """One story: its people, and its events in the order of time."""

    def __init__(self, story: Story, number: int, cast: dict[str, User], now: datetime) -> None:
        self.story, self.number, self.now = story, number, now
        self.clinic = Clinic.objects.get(name=story.clinic)
        self.cast = cast
        self.measurer = self._in_role("measurer")
        self.reporter = self._in_role("reporter")
        self.nurse = self._in_role("wound_team") if story.clinic == "Alder House" else self.measurer

    def _in_role(self, role: str) -> Person:
        one = next(s for s in STAFF if (role, self.story.clinic) in s.roles)
        return person_for(self.cast[one.email], self.clinic.pk)

    def tell(self) -> None:
        events = sorted(self._events(), key=lambda event: event.at)
        with clock.at(events[0].at - timedelta(days=7)):
            self.patient = self._register()
        for event in events:
            with clock.at(event.at):
                event.tell()

    def _events(self) -> Iterator[Event]:
        for caution in self.story.cautions:
            yield Event(self._moment(caution.weeks, 8), partial(self._caution, caution))
        for fact in self.story.facts:
            yield from self._fact_events(fact)
        for visit in self.story.visits:
            yield Event(self._start_of(visit), partial(self._visit, visit))
        if self.story.merged:
            yield Event(self._moment(self.story.merged.weeks, 12), partial(self._merge, self.story.merged))

    def _moment(self, weeks: int, hour: int) -> datetime:
        local = datetime.combine(self._day(weeks), time(hour, (self.number * 7) % 50), self.clinic.zone)
        return min(local, self.now - timedelta(hours=4))

    def _day(self, weeks: int) -> date:
        today = self.now.astimezone(self.clinic.zone).date()
        if not weeks:
            return today
        day = today - timedelta(weeks=weeks) + timedelta(days=self.number % 4)
        return day - timedelta(days=max(0, day.weekday() - 4))

    def _start_of(self, visit: Visit) -> datetime:
        if visit.weeks:
            return self._moment(visit.weeks, 9 + self.number % 6)
        ago = {"measured": 100, "measuring": 40, "resting": 20, "booked": 15}[visit.ends]
        return self.now - timedelta(minutes=ago)

    def _register(self) -> Patient:
        story = self.story
        return patients.register_patient(
            family_name=story.family,
            given_name=story.given,
            birth_date=date.fromisoformat(story.born),
            sex=story.sex,
            identifiers=[("Fenmarsh", story.number)],
            telephone=story.telephone,
            referrer=story.referrer,
            diabetes=story.diabetes,
            kidney_disease=story.kidney_disease,
            neuropathy=story.neuropathy,
            tobacco=story.tobacco,
            duplicate_reason=story.registered_because,
            by=self.measurer,
        )

    def _caution(self, told: CautionTold) -> None:
        patients.add_caution(
            patient=self.patient,
            side=told.side,
            region=told.region,
            kind=told.kind,
            do_not_inflate=told.do_not_inflate,
            note=told.note,
            source="told by the person",
            started_on=clock.now().date(),
            by=self.measurer,
        )

    def _fact_events(self, fact: Fact) -> Iterator[Event]:
        kept = {}

        def begins() -> None:
            kept["row"] = patients.record_limb_fact(
                patient=self.patient,
                side=fact.side,
                kind=fact.kind,
                level=fact.level,
                toe=fact.toe,
                started_on=clock.now().date(),
                note=fact.note,
                source="seen in clinic",
                by=self.nurse,
            )

        def ends() -> None:
            patients.end_limb_fact(
                fact=kept["row"], ended_on=clock.now().date(), reason="healed", by=self.nurse
            )

        yield Event(self._moment(fact.weeks, 8), begins)
        if fact.until is not None:
            yield Event(self._moment(fact.until, 8), ends)

    def _visit(self, visit: Visit) -> None:
        start = clock.now()
        ahead = 75 + 45 * (self.number % 3) if visit.ends == "booked" else 5
        exam = visits.book_exam(
            patient=self.patient,
            exam_type=visit.exam_type,
            booked_for=start + timedelta(minutes=ahead),
            indication=visit.indication,
            indication_text=visit.indication_text,
            referrer=self.story.referrer,
            by=self.measurer,
        )
        if visit.ends == "booked":
            return
        if visit.ends == "not_attended":
            with clock.at(start + timedelta(minutes=40)):
                visits.not_attended(exam=exam, because=visit.why, by=self.measurer)
            return
        with clock.at(start + timedelta(minutes=6)):
            visits.confirm_identity(exam=exam, how="stated", by=self.measurer)
            visits.lie_flat(exam=exam, by=self.measurer)
        if visit.ends == "resting":
            return
        with clock.at(start + timedelta(minutes=8)):
            visits.confirm_cautions(exam=exam, by=self.measurer)
            self._prepare(exam, visit)
        self._measure(exam, visit, start + timedelta(minutes=6 + visit.rest_minutes))
        if visit.ends != "measuring":
            self._close(exam, visit)

    def _prepare(self, exam: Exam, visit: Visit) -> None:
        right, left = visit.toes_celsius.split()
        told = {"position": visit.position, "right_toe_celsius": right, "left_toe_celsius": left}
        if visit.exam_type != "toe_only":
            told["first_arm"] = "right"
        for item, typed in {**told, "cuffs_cleaned": "yes"}.items():
            visits.record_preparation(
                exam=exam,
                item=item,
                value=read_preparation(typed, item),
                client_id=self._entry(exam, item),
                seen_revision=0,
                by=self.measurer,
            )

    def _measure(self, exam: Exam, visit: Visit, begin: datetime) -> None:
        self.at = begin
        recorded = list(visit.recorded)
        for place, typed in places(visit):
            here = [one for one in recorded if place_of(one) == place]
            recorded = [one for one in recorded if one not in here]
            given = [self._record(exam, visit, one, typed) for one in here]
            # What a marked recording gave stands in the sheet. A protected arm was filled in by the cautions.
            if not any(given) and typed != "-arm_protected":
                self._type(exam, visit, place, typed)
        for one in recorded:
            self._record(exam, visit, one, "")

    def _type(self, exam: Exam, visit: Visit, place: Place, typed: str) -> None:
        toe = place.site.startswith("toe")
        self.at += timedelta(seconds=50 if toe else 35)
        with clock.at(self.at):
            visits.record_reading(
                exam=exam,
                place=place,
                value=read_reading(as_typed(typed), place.site),
                technique=visit.technique if toe else "doppler",
                client_id=self._entry(exam, place.name),
                seen_revision=0,
                by=self.measurer,
            )

    def _record(self, exam: Exam, visit: Visit, told: Recorded, reading: str) -> bool:
        """Record a toe; whether that put its reading into the sheet."""
        self.at += timedelta(seconds=140)
        with clock.at(self.at):
            trace = recordings.take(
                told=told,
                exam=exam,
                place=place_of(told),
                technique=visit.technique,
                reading=reading,
                key=str(self._entry(exam, f"{told.place} {told.seed}")),
                by=self.measurer,
            )
        if told.second:
            with clock.at(self.at + timedelta(minutes=40)):
                recordings.read_blind(trace, told.second, self.reporter)
        return not (told.waits or told.refused)

    def _close(self, exam: Exam, visit: Visit) -> None:
        with clock.at(self.at + timedelta(minutes=2)):
            if visit.answers:
                for remark in remarks_of(exam):
                    if remark.is_open:
                        visits.answer_remark(exam=exam, remark=remark, answer=visit.answers, by=self.measurer)
            if visit.told:
                self._hand_over(exam, visit)
            if visit.ends == "stopped":
                visits.stop_exam(exam=exam, because=visit.why, by=self.measurer)
                return
        with clock.at(self.at + timedelta(minutes=14)):
            visits.finish_measuring(exam=exam, by=self.measurer)
        if visit.ends == "report":
            with clock.at(self.at + timedelta(hours=3)):
                self._report(exam)

    def _hand_over(self, exam: Exam, visit: Visit) -> None:
        told = visit.told
        if told is None:
            return
        for line in sheet_for(self.measurer, exam.pk).hand_overs:
            if line.closed_at is not None:
                continue
            slip = hand_over_for(self.measurer, line.id)
            moment = slip.raised_at + timedelta(minutes=told.minutes)
            with clock.at(max(moment, clock.now())):
                visits.close_hand_over(
                    slip=slip,
                    told_name=told.name,
                    told_role=told.role,
                    told_number=told.number,
                    told_by=self.measurer.user,
                    told_at=moment,
                    read_back=told.read_back,
                    agreed=told.agreed,
                    patient_told="yes",
                    by=self.measurer,
                )

    def _merge(self, merged: Merged) -> None:
        survivor = patients_matching(self.reporter, merged.into).patients[0]
        decided = to_decide(survivor, self.patient)
        merge_records(
            survivor=survivor,
            merged=self.patient,
            keep={one.key: one.likely or "survivor" for one in decided},
            because=merged.because,
            seen=(survivor.revision, self.patient.revision),
            by=self.reporter,
        )

    def _report(self, exam: Exam) -> None:
        draft = draft_for(self.reporter, exam.pk)
        # The worker prints it after the start: printing here would triple the wait for the first page.
        make_report(
            exam=exam, conclusion=draft.drafted, drafted=draft.drafted, seen=draft.seen, by=self.reporter
        )

    def _entry(self, exam: Exam, name: str) -> UUID:
        return uuid5(_ENTRIES, f"{self.story.number} {exam.booked_for.isoformat()} {name}")
