"""What an exam asks for, in which order, and how its states follow each other. Data and pure functions."""

from collections.abc import Iterable
from dataclasses import dataclass

from exams.visits.models import ExamState, ExamType, Site, Technique

ANKLE_SITES = (Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.PERONEAL)
TOE_SITES = (Site.TOE_1, Site.TOE_2, Site.TOE_3, Site.TOE_4, Site.TOE_5)
SIDES = ("right", "left")
ATTEMPTS = (1, 2, 3)

# Which step may be taken in which state, and the state after it.
TRANSITIONS: dict[str, dict[str, str]] = {
    "identity": {ExamState.BOOKED: ExamState.IDENTIFIED},
    "lying_flat": {
        ExamState.IDENTIFIED: ExamState.RESTING,
        ExamState.RESTING: ExamState.RESTING,
    },
    "reading": {
        ExamState.IDENTIFIED: ExamState.MEASURING,
        ExamState.RESTING: ExamState.MEASURING,
        ExamState.MEASURING: ExamState.MEASURING,
    },
    "measured": {ExamState.MEASURING: ExamState.MEASURED},
    "reported": {ExamState.MEASURED: ExamState.REPORTED, ExamState.REPORTED: ExamState.REPORTED},
    "not_attended": {ExamState.BOOKED: ExamState.NOT_ATTENDED},
    "stopped": {
        ExamState.IDENTIFIED: ExamState.STOPPED,
        ExamState.RESTING: ExamState.STOPPED,
        ExamState.MEASURING: ExamState.STOPPED,
    },
    "reopen": {
        ExamState.NOT_ATTENDED: ExamState.BOOKED,
        ExamState.STOPPED: ExamState.IDENTIFIED,
        ExamState.MEASURED: ExamState.MEASURING,
    },
}
OPEN_STATES = (ExamState.IDENTIFIED, ExamState.RESTING, ExamState.MEASURING)
DONE_STATES = (ExamState.MEASURED, ExamState.REPORTED)


@dataclass(frozen=True)
class Place:
    """One field of the sheet: a site of a side, and the how-manieth attempt there."""

    side: str
    site: str
    attempt: int

    @property
    def name(self) -> str:
        return f"{self.side}.{self.site}.{self.attempt}"


def place_named(name: str) -> Place | None:
    """The place of a field name such as ``left.posterior_tibial.1``; None if there is none of that name."""
    parts = name.split(".")
    if len(parts) != 3 or parts[0] not in SIDES or parts[1] not in Site.values:
        return None
    if parts[2] not in {str(attempt) for attempt in ATTEMPTS}:
        return None
    return Place(parts[0], parts[1], int(parts[2]))


def planned_sites(exam_type: str, lost: Iterable[str]) -> tuple[str, ...]:
    """The sites of one side that an exam of this type asks for.

    What was amputated leaves the plan and the next toe takes the place of a toe; a foot without toes plans
    none, a leg without a foot no ankle (workflow.md 2.7).
    """
    gone = set(lost)
    ankles = () if exam_type == ExamType.TOE_ONLY else (Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS)
    first_toe = next((toe for toe in TOE_SITES if toe not in gone), None)
    return (Site.ARM, *(site for site in ankles if site not in gone), *((first_toe,) if first_toe else ()))


def shown_sites(exam_type: str, lost: Iterable[str], failed: Iterable[str]) -> tuple[str, ...]:
    """The sites of one side that stand open on the sheet; every other one is folded away.

    A toe without a reading offers the next one. The full exam shows peroneal and second toe as well.
    """
    gone, without = set(lost), set(failed)
    shown = list(planned_sites(exam_type, gone))
    if exam_type == ExamType.FULL:
        shown += [site for site in (Site.PERONEAL, Site.TOE_2) if site not in gone]
    for toe in TOE_SITES:
        if toe in shown and toe in without:
            following = next((t for t in TOE_SITES[TOE_SITES.index(toe) + 1 :] if t not in gone), None)
            shown += [following] if following else []
    return tuple(dict.fromkeys(shown))


@dataclass(frozen=True)
class SiteGroup:
    """Sites measured one after the other with one technique. `side` is empty for the arms."""

    key: str
    title: str
    side: str
    sites: tuple[str, ...]


ARMS = SiteGroup("arms", "Arms", "", (Site.ARM,))
ANKLES = tuple(SiteGroup(f"{side}_ankle", f"{side.upper()} ankle", side, ANKLE_SITES) for side in SIDES)
TOES = tuple(SiteGroup(f"{side}_toes", f"{side.upper()} toes", side, TOE_SITES) for side in SIDES)
ARM_AGAIN = SiteGroup("arm_again", "First arm again", "", (Site.ARM,))


def groups_in_order(toes_first: bool) -> tuple[SiteGroup, ...]:
    """The measuring order: arms, ankles, toes (or toes, ankles), and the first arm again at the end."""
    feet = (*TOES, *ANKLES) if toes_first else (*ANKLES, *TOES)
    return (ARMS, *feet, ARM_AGAIN)


TECHNIQUES: dict[str, tuple[str, ...]] = {
    "arm": (Technique.DOPPLER, Technique.OSCILLOMETRIC),
    "ankle": (Technique.DOPPLER, Technique.OSCILLOMETRIC),
    "toe": (Technique.TWO_CUFFS, Technique.ONE_CUFF_HAND, Technique.DOPPLER, Technique.OSCILLOMETRIC),
}


def kind_of_site(site: str) -> str:
    """ "arm", "ankle" or "toe"."""
    if site == Site.ARM:
        return "arm"
    return "ankle" if site in ANKLE_SITES else "toe"
