"""The WIfI wound grade, from what was seen and never asked for itself.

Source: WIFI14 as worded in two clinical references (clinical reference 3.1). WIfI gives no sizes: "extensive"
is the clinician's judgement.
"""

from __future__ import annotations

from exams.hemodynamics.wounds.assessed import HEEL_REGIONS, AssessedWound, Gangrene, Region, Tissue
from exams.hemodynamics.wounds.graded import Fact, Grade
from exams.hemodynamics.wounds.possible import grade
from exams.hemodynamics.wounds.sources import SECONDARY

WOUND_WORDS = {
    0: "no ulcer and no gangrene",
    1: "small, shallow ulcer; no bone but in the end bone of a toe; no gangrene",
    2: "deeper ulcer with bone, joint or tendon, or shallow heel ulcer; or gangrene limited to the toes",
    3: "extensive deep ulcer or full-thickness heel ulcer; or extensive or heel gangrene",
}
OF_GANGRENE = {Gangrene.NONE: 0, Gangrene.DIGITS: 2, Gangrene.EXTENSIVE: 3, Gangrene.HEEL: 3}
EXTENSIVE_SHALLOW = (
    "An extensive but shallow ulcer stands in no row of the published table: it is read as grade 2 (ours)."
)


def wound_grade(wound: AssessedWound | None) -> Grade:
    """W0 to W3 of one wound; None is no wound at all (rest pain only).

    NotStated where what was not looked at could change it; ``possible`` then holds every grade it can be.
    """
    if wound is None:
        return _made((0,), (Fact("wound", "none"),))
    by_ulcer, asked = _by_ulcer(wound)
    possible = {max(one, other) for one in by_ulcer for other in _by_gangrene(wound)}
    missing = [*asked, *(["is there gangrene, and how far"] if wound.gangrene is None else [])]
    shallow = _is_shallow(wound) and wound.extensive == "yes" and wound.region not in HEEL_REGIONS
    return _made(
        tuple(possible),
        _facts(wound),
        tuple(missing),
        flags=("EXTENSIVE_SHALLOW",) if shallow else (),
        notes=(EXTENSIVE_SHALLOW,) if shallow else (),
    )


def not_assessed_grade(*, gangrene: bool) -> Grade:
    """Every grade that a wound, or gangrene, can have which is on record and of which no more is known."""
    if gangrene:
        told = Fact("gangrene", "on record, not how far it goes")
        return _made((2, 3), (told,), ("assess the gangrene: how far does it go",))
    told = Fact("wound", "on record, not assessed")
    return _made((1, 2, 3), (told,), ("assess the wound: place, depth, extent, gangrene",))


def _made(
    possible: tuple[int, ...],
    facts: tuple[Fact, ...],
    missing: tuple[str, ...] = (),
    flags: tuple[str, ...] = (),
    notes: tuple[str, ...] = (),
) -> Grade:
    return grade(
        "wifi_wound", possible, letter="W", words=WOUND_WORDS, facts=facts, missing=missing, flags=flags,
        notes=notes, rule="deepest tissue, place, extent and gangrene", source="WIFI14", status=SECONDARY,
    )  # fmt: skip


def _by_gangrene(wound: AssessedWound) -> set[int]:
    if wound.gangrene is not None:
        return {OF_GANGRENE[wound.gangrene]}
    # What gangrene there can be depends on the place, but any place may have the extensive kind.
    return {0, 2, 3} if wound.region is Region.FOREFOOT else {0, 3}


def _by_ulcer(wound: AssessedWound) -> tuple[set[int], list[str]]:
    """The grades the ulcer alone allows, and what has to be asked to tell them apart."""
    if wound.deepest is None:
        return (
            {2, 3} if wound.region in HEEL_REGIONS else {1, 2, 3},
            ["which tissue shows at the bottom of the wound"],
        )
    if wound.region in HEEL_REGIONS:
        return _by_heel_ulcer(wound)
    perhaps_phalanx = wound.region is Region.FOREFOOT and wound.bone_only_in_distal_phalanx == "unknown"
    if wound.deepest is Tissue.BONE and perhaps_phalanx:
        found = _by_extent(wound, deep=True) | _by_extent(wound, deep=False)
        return found, ["does bone show only in the end bone of the toe", *_ask_extent(wound)]
    return _by_extent(wound, deep=not _is_shallow(wound)), _ask_extent(wound)


def _by_heel_ulcer(wound: AssessedWound) -> tuple[set[int], list[str]]:
    if wound.calcaneus == "yes" or (wound.deepest is not None and wound.deepest.is_deep):
        return {3}, []
    if wound.calcaneus == "no":
        return {2}, []
    return {2, 3}, ["is the heel bone involved"]


def _by_extent(wound: AssessedWound, *, deep: bool) -> set[int]:
    confined, extensive = (2, 3) if deep else (1, 2)
    return {"yes": {extensive}, "no": {confined}}.get(wound.extensive, {confined, extensive})


def _ask_extent(wound: AssessedWound) -> list[str]:
    return ["is it extensive"] if wound.extensive == "unknown" else []


def _is_shallow(wound: AssessedWound) -> bool:
    """Skin and subcutis, and bone that shows in the end bone of a toe only."""
    if wound.deepest is None:
        return False
    return not wound.deepest.is_deep or wound.bone_only_in_distal_phalanx == "yes"


def _facts(wound: AssessedWound) -> tuple[Fact, ...]:
    told = [
        Fact("place", wound.place_words),
        Fact("deepest tissue", wound.deepest.words if wound.deepest else "not known"),
        Fact("extensive", wound.extensive),
        Fact("gangrene", wound.gangrene.words if wound.gangrene else "not known"),
    ]
    if wound.deepest is Tissue.BONE and wound.region is Region.FOREFOOT:
        told.append(Fact("bone only in the end bone of a toe", wound.bone_only_in_distal_phalanx))
    if wound.region in HEEL_REGIONS:
        told.append(Fact("heel bone involved", wound.calcaneus))
    return tuple(told)
