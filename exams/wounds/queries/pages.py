"""What the pages of this room show: the wounds of a person, and the course of one wound."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from access.people import Person
from access.permissions import require
from exams.hemodynamics import AreaCourse, Grade, LimbStage, area_course
from exams.patients.events import Side
from exams.patients.models import LimbFact, Patient
from exams.patients.queries import today_in
from exams.patients.typed_date import written
from exams.wounds.asked import area_readings
from exams.wounds.codes import STAGE, EpisodeEnd
from exams.wounds.figure import CourseFigure, course_figure
from exams.wounds.footmap import View, foot_views
from exams.wounds.models import (
    Assessment,
    Episode,
    Photograph,
    WoundEntry,
    without_wound_of_amputation,
)
from exams.wounds.models import Grade as GradeRow
from exams.wounds.places import PLACES, taken_by
from exams.wounds.queries.foot import LooseFact, loose_facts, not_described
from exams.wounds.queries.outlook import outlook_criteria


@dataclass(frozen=True)
class WoundLine:
    """One wound in a list, with what was last found of it."""

    entry: WoundEntry
    newest: Assessment | None
    stage: LimbStage | None


@dataclass(frozen=True)
class FootShown:
    """One foot: its map, its open wounds, and those that closed."""

    side: str
    word: str
    views: tuple[View, ...]
    open: tuple[WoundLine, ...]
    closed: tuple[WoundLine, ...]
    lost: tuple[str, ...]
    loose: tuple[LooseFact, ...]


@dataclass(frozen=True)
class PatientWounds:
    """Both feet of one person. ``awaited`` went with an amputation whose own wound is not recorded."""

    patient: Patient
    feet: tuple[FootShown, ...]
    awaited: tuple[WoundEntry, ...]
    withdrawn: tuple[WoundEntry, ...]
    episodes: tuple[Episode, ...]
    open_episode: Episode | None

    @property
    def open_count(self) -> int:
        return sum(len(foot.open) for foot in self.feet)

    @property
    def closed(self) -> tuple[WoundEntry, ...]:
        return tuple(line.entry for foot in self.feet for line in foot.closed)

    @property
    def began(self) -> tuple[tuple[Episode, str], ...]:
        """Each episode, and since when, as exactly as it is known of the wound that it began with."""
        lines = [line.entry for foot in self.feet for line in (*foot.open, *foot.closed)]
        known = {(entry.wound.episode_id, entry.began_on): entry.dated.words for entry in lines}
        return tuple((one, known.get((one.pk, one.began_on), written(one.began_on))) for one in self.episodes)

    @property
    def open_began(self) -> str:
        return next((words for one, words in self.began if one == self.open_episode), "")


def patient_page(person: Person, patient: Patient, chosen: str = "") -> PatientWounds:
    """Every wound of a person, foot by foot; five queries. ``chosen`` is a place as "right:heel_back"."""
    require(person, "see wounds", patient)
    entries = list(
        WoundEntry.objects.filter(wound__episode__patient=patient, replaced_by=None)
        .select_related("wound__episode", "wound__withdrawn_by", "entered_by")
        .order_by("-began_on", "-pk")
    )
    seen: dict[int, list[Assessment]] = {}
    for one in _standing(entries).order_by("assessed_on", "pk"):
        seen.setdefault(one.wound_id, []).append(one)
    newest = [found[-1].pk for found in seen.values()]
    stages = {
        row.assessment_id: LimbStage.from_json(row.graded)
        for row in GradeRow.objects.filter(assessment_id__in=newest, measure=STAGE)
    }
    facts = list(LimbFact.objects.filter(patient=patient, replaced_by=None, withdrawn_at=None))
    standing = [one for one in entries if one.wound.withdrawn_at is None]
    lines = [
        WoundLine(
            entry,
            found[-1] if (found := seen.get(entry.wound_id)) else None,
            stages.get(found[-1].pk) if found else None,
        )
        for entry in standing
    ]
    today = today_in(patient.clinic)
    episodes = tuple(
        Episode.objects.filter(patient=patient)
        .exclude(ended_how=EpisodeEnd.IN_ERROR)
        .order_by("-began_on", "-pk")
    )
    return PatientWounds(
        patient=patient,
        feet=tuple(_foot(side, lines, facts, today, chosen) for side in Side),
        awaited=tuple(
            gone
            for gone in without_wound_of_amputation(standing)
            if gone.wound.episode.ended_how != EpisodeEnd.LOST
        ),
        withdrawn=tuple(one for one in entries if one.wound.withdrawn_at is not None),
        episodes=episodes,
        open_episode=next((one for one in episodes if one.ended_how != EpisodeEnd.HEALED), None),
    )


def _foot(
    side: Side, lines: Sequence[WoundLine], facts: Sequence[LimbFact], today: date, chosen: str
) -> FootShown:
    events = [event for fact in facts if (event := fact.event)]
    lost = {
        place.code: loss.words
        for place in PLACES
        if (loss := taken_by(place, side.value, events, today)) is not None
    }
    of_foot = [line for line in lines if line.entry.side == side]
    open_ones = tuple(
        sorted((line for line in of_foot if line.entry.is_open), key=lambda line: line.entry.wound.number)
    )
    drawn: dict[str, list[int]] = {}
    for line in open_ones:
        drawn.setdefault(line.entry.place, []).append(line.entry.wound.number)
    chosen_side, _, place = chosen.partition(":")
    return FootShown(
        side=side.value,
        word=str(side.label),
        views=foot_views(
            side.value,
            str(side.label),
            wounds=drawn,
            lost=lost,
            chosen=(place,) if chosen_side == side.value else (),
        ),
        open=open_ones,
        closed=tuple(line for line in of_foot if not line.entry.is_open),
        lost=tuple(dict.fromkeys(lost.values())),
        loose=loose_facts(facts, side, today, _not_described(open_ones)),
    )


@dataclass(frozen=True)
class Seen:
    """One assessment of a wound with its grades; struck through where it was replaced or withdrawn."""

    found: Assessment
    grades: Mapping[str, Grade]
    stage: LimbStage | None
    smaller: str

    @property
    def stands(self) -> bool:
        return self.found.withdrawn_at is None and not self.replaced

    @property
    def replaced(self) -> Assessment | None:
        return getattr(self.found, "replaced_by", None)


@dataclass(frozen=True)
class WoundShown:
    """The course of one wound: what is said of it, what was found, and how it goes."""

    entry: WoundEntry
    earlier: tuple[WoundEntry, ...]
    seen: tuple[Seen, ...]
    photographs: tuple[Photograph, ...]
    course: AreaCourse | None
    figure: CourseFigure | None

    @property
    def patient(self) -> Patient:
        return self.entry.patient

    @property
    def standing(self) -> tuple[Seen, ...]:
        """Newest first."""
        return tuple(one for one in self.seen if one.stands)

    @property
    def newest(self) -> Seen | None:
        return next(iter(self.standing), None)

    @property
    def pictured(self) -> tuple[int | None, ...]:
        """The photographs that an assessment uses; another was sent with a form that was never finished."""
        return tuple(one.found.photograph_id for one in self.seen)


def wound_page(person: Person, entry: WoundEntry) -> WoundShown:
    """Everything of one wound; six queries."""
    require(person, "see wounds", entry)
    rows = list(
        Assessment.objects.filter(wound_id=entry.wound_id)
        .select_related("entered_by", "withdrawn_by", "photograph", "replaced_by__entered_by")
        .order_by("-assessed_on", "-pk")
    )
    grades: dict[int, list[GradeRow]] = {}
    for row in GradeRow.objects.filter(assessment__in=rows).order_by("pk"):
        grades.setdefault(row.assessment_id, []).append(row)
    standing = [one for one in reversed(rows) if one.withdrawn_at is None and not hasattr(one, "replaced_by")]
    seen = tuple(_seen(one, grades.get(one.pk, ()), standing) for one in rows)
    return WoundShown(
        entry=entry,
        earlier=tuple(
            WoundEntry.objects.filter(wound_id=entry.wound_id)
            .exclude(pk=entry.pk)
            .select_related("replaced_by__entered_by", "entered_by")
            .order_by("-pk")
        ),
        seen=seen,
        photographs=tuple(
            Photograph.objects.filter(wound_id=entry.wound_id, withdrawn_at=None)
            .select_related("entered_by")
            .order_by("-taken_on", "-pk")
        ),
        course=_course(entry, standing),
        figure=course_figure(
            [(one.found.assessed_on, one.found.area_mm2, one.stage) for one in seen if one.stands]
        ),
    )


def _not_described(lines: Sequence[WoundLine]) -> tuple[str, ...]:
    found = [line.newest for line in lines if line.newest]
    return not_described([line.entry for line in lines], found)


def _standing(entries: Sequence[WoundEntry]):
    return Assessment.objects.filter(
        wound_id__in=[one.wound_id for one in entries], replaced_by=None, withdrawn_at=None
    )


def _seen(found: Assessment, rows: Sequence[GradeRow], standing: Sequence[Assessment]) -> Seen:
    grades = {row.measure: Grade.from_json(row.graded) for row in rows if row.measure != STAGE}
    stage = next((LimbStage.from_json(row.graded) for row in rows if row.measure == STAGE), None)
    first = next((one for one in standing if one.area_mm2), None)
    smaller = ""
    if first is not None and found.area_mm2 is not None and found.pk != first.pk and first.area_mm2:
        if found.area_how == first.area_how:
            change = round(100 * (first.area_mm2 - found.area_mm2) / first.area_mm2)
            smaller = f"{change} % smaller" if change >= 0 else f"{-change} % larger"
        else:
            smaller = "measured otherwise"
    return Seen(found, grades, stage, smaller)


def _course(entry: WoundEntry, standing: Sequence[Assessment]) -> AreaCourse | None:
    criteria = outlook_criteria(entry.patient.clinic)
    if criteria.outlook is None or not standing:
        return None
    on = entry.closed_on or today_in(entry.patient.clinic)
    since = max(entry.presented_on, entry.began_on)
    return area_course(area_readings(standing), since, on, criteria.outlook)
