"""Tells the stories through the services, the way the staff would have done it, on the days it happened.

Deterministic: the same day gives the same record. Nothing here writes a row itself.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import partial

from access import clock
from access.models import Clinic, User
from access.people import Person, person_for
from exams.identity.queries import to_decide
from exams.identity.services import merge_records
from exams.patients import services as patients
from exams.patients.models import LimbFact, Patient
from exams.patients.queries import patients_matching
from vaslab.demo.follow import follow_events, settle_recalls
from vaslab.demo.hire import hire
from vaslab.demo.staff import STAFF
from vaslab.demo.story import CautionTold, Fact, Merged, Story, Visit
from vaslab.demo.visit import Staffed, hand_over_open_slips, tell_visit
from vaslab.demo.wounds import wound_events

FIRST_DAY_WEEKS = 420


@dataclass(frozen=True)
class Event:
    """Something that happened at a moment, in the order it is told."""

    at: datetime
    tell: Callable[[], None]


def tell_everything(now: datetime, say: Callable[[str], None], stories: Sequence[Story]) -> None:
    """Make clinics, staff and ``stories`` as of ``now``; ``say`` is told each step."""
    say("clinics and staff")
    with clock.at(now - timedelta(weeks=FIRST_DAY_WEEKS)):
        cast = hire()
    clinics = {one.name: one for one in Clinic.objects.all()}
    for number, story in enumerate(stories):
        say(f"telling {number + 1} of {len(stories)}: {story.given} {story.family}, {story.about}")
        _Teller(story, number, cast, clinics[story.clinic], now).tell()


class _Teller:
    """One story: its people, and its events in the order of time."""

    def __init__(
        self, story: Story, number: int, cast: dict[str, User], clinic: Clinic, now: datetime
    ) -> None:
        self.story, self.number, self.now, self.clinic = story, number, now, clinic
        measurer, reporter = self._in_role("measurer", cast), self._in_role("reporter", cast)
        self.staff = Staffed(measurer, reporter)
        self.nurse = self._in_role("wound_team", cast) if story.clinic == "Alder House" else measurer

    def _in_role(self, role: str, cast: dict[str, User]) -> Person:
        one = next(s for s in STAFF if (role, self.story.clinic) in s.roles)
        return person_for(cast[one.email], self.clinic.pk)

    def tell(self) -> None:
        events = sorted(self._events(), key=lambda event: event.at)
        with clock.at(events[0].at - timedelta(days=7)):
            self.patient = self._register()
        for event in events:
            with clock.at(event.at):
                event.tell()

    def _events(self) -> Iterator[Event]:
        story = self.story
        for caution in story.cautions:
            yield Event(self._moment(caution.weeks, 8), partial(self._caution, caution))
        for wound in story.wounds:
            for weeks, hour, told in wound_events(wound, lambda: self.patient, self.nurse):
                yield Event(self._moment(weeks, hour), partial(self._wound, told))
        for fact in story.facts:
            yield from self._fact_events(fact)
        for visit in story.visits:
            yield Event(self._start_of(visit), partial(self._visit, visit))
        for weeks, hour, days, told in follow_events(
            story, lambda: self.patient, self.nurse, self.staff.reporter
        ):
            begun = self._moment(weeks, hour) if weeks else self.now - timedelta(minutes=45)
            yield Event(min(begun + timedelta(days=days), self.now - timedelta(minutes=30)), told)
        if story.merged:
            yield Event(self._moment(story.merged.weeks, 12), partial(self._merge, story.merged))

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

    def _visit(self, visit: Visit) -> None:
        ahead = timedelta(minutes=75 + 45 * (self.number % 3) if visit.ends == "booked" else 5)
        tell_visit(visit, self.patient, self.staff, ahead=ahead, referrer=self.story.referrer)
        if visit.ends in ("report", "reported", "measured"):
            with clock.at(min(clock.now() + timedelta(hours=1), self.now)):
                settle_recalls(self.patient, self.story.recall, self.nurse)

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
            by=self.staff.measurer,
        )

    def _merge(self, merged: Merged) -> None:
        survivor = patients_matching(self.staff.reporter, merged.into).patients[0]
        decided = to_decide(survivor, self.patient)
        merge_records(
            survivor=survivor,
            merged=self.patient,
            keep={one.key: one.likely or "survivor" for one in decided},
            because=merged.because,
            seen=(survivor.revision, self.patient.revision),
            by=self.staff.reporter,
        )

    def _wound(self, told: Callable[[], None]) -> None:
        told()
        # As with a fact: a wound or infection found today makes the toe of last year urgent.
        hand_over_open_slips(self.patient, self.staff)

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
            by=self.staff.measurer,
        )

    def _fact_events(self, fact: Fact) -> Iterator[Event]:
        kept: dict[str, LimbFact] = {}

        def begins() -> None:
            kept["row"] = patients.record_limb_fact(
                patient=self.patient,
                side=fact.side,
                kind=fact.kind,
                level=fact.level,
                toe=fact.toe,
                approach=fact.approach,
                vessels=fact.vessels,
                device=fact.device,
                grade=fact.grade,
                started_on=_first_day(clock.now().date(), fact.precision),
                started_precision=fact.precision,
                note=fact.note,
                source=fact.source,
                by=self.nurse,
            )
            # A wound or infection found today makes the toe of last year urgent; somebody is told at once.
            hand_over_open_slips(self.patient, self.staff)

        def ends() -> None:
            patients.end_limb_fact(
                fact=kept["row"], ended_on=clock.now().date(), reason=fact.ended, by=self.nurse
            )

        yield Event(self._moment(fact.weeks, 8), begins)
        if fact.until is not None:
            yield Event(self._moment(fact.until, 8), ends)


def _first_day(day: date, precision: str) -> date:
    """The first day it may have been, of what is known to the month or to the year."""
    if precision == "year":
        return day.replace(month=1, day=1)
    return day.replace(day=1) if precision == "month" else day
