"""SINBAD: six items of one point each, and what is missing. Source: SINBAD08 (clinical reference 4.4)."""

from __future__ import annotations

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.wounds.area import area_of
from exams.hemodynamics.wounds.assessed import AssessedWound, FootFacts, Region
from exams.hemodynamics.wounds.graded import Fact, Grade
from exams.hemodynamics.wounds.infection import iwgdf_infection
from exams.hemodynamics.wounds.possible import answer, grade
from exams.hemodynamics.wounds.sources import SECONDARY

AREA_LIMIT_MM2 = 100  # 1 cm² and more (the original, from memory; a study words it "more than")
LONGER_FROM = 3
ITEM_WORDS = {
    "site": "midfoot or hindfoot",
    "ischaemia": "pedal flow reduced",
    "neuropathy": "protective sensation lost",
    "bacterial infection": "bacterial infection",
    "area": "1 cm² or more",
    "depth": "muscle, tendon or deeper",
}
ASKED = {
    "ischaemia": "is a pedal pulse felt",
    "neuropathy": "is protective sensation lost",
    "bacterial infection": "signs of infection",
    "area": "how large is the wound",
    "depth": "which tissue shows at the bottom of the wound",
}
SCORE_WORDS = {
    score: "healing tends to take longer" if score >= LONGER_FROM else "fewer signs of slow healing"
    for score in range(7)
}
LEG = NotStated("SINBAD is for ulcers of the foot, not of the leg")


def sinbad(wound: AssessedWound, foot: FootFacts, infection_rule: str = "iwgdf2023") -> Grade:
    """SINBAD 0 to 6; NotStated where an item is not known, with the lowest and highest it can be.

    A score of 3 or more (flag LONGER_HEALING) goes with longer healing. On the leg there is none.
    """
    items = sinbad_items(wound, foot, infection_rule)
    sure = sum(item == "yes" for item in items.values())
    perhaps = sum(item == "unknown" for item in items.values())
    made = grade(
        "sinbad", range(sure, sure + perhaps + 1), letter="", words=SCORE_WORDS,
        facts=[Fact(f"{name}: {ITEM_WORDS[name]}", item) for name, item in items.items()],
        missing=[ASKED[name] for name, item in items.items() if item == "unknown"],
        flags=["LONGER_HEALING"] if sure >= LONGER_FROM else [],
        rule="six items, one point each; 3 or more goes with longer healing",
        source="SINBAD08", status=SECONDARY,
    )  # fmt: skip
    if wound.region is not Region.LEG:
        return made
    return Grade(
        "sinbad", LEG, 0, 6, "not for the leg", LEG.reason, made.facts, (), (), (), made.rule, made.source,
        made.status,
    )  # fmt: skip


def sinbad_items(
    wound: AssessedWound, foot: FootFacts, infection_rule: str = "iwgdf2023"
) -> dict[str, Answer]:
    """Each item with whether it scores a point."""
    area = area_of(wound)
    infected = iwgdf_infection(wound.infection, infection_rule)
    infection: Answer = "unknown" if infected.at_least == 1 < infected.at_most else "yes"
    return {
        "site": answer(wound.region is not Region.FOREFOOT),
        "ischaemia": flow_reduced(foot),
        "neuropathy": foot.sensation_lost,
        "bacterial infection": "no" if infected.at_most == 1 else infection,
        "area": answer(None if area is None else area.area_mm2 >= AREA_LIMIT_MM2),
        "depth": answer(None if wound.deepest is None else wound.deepest.is_deep),
    }


def flow_reduced(foot: FootFacts) -> Answer:
    """Whether pedal flow is clinically reduced: said so, or no pulse felt; one pulse is enough to deny it."""
    if foot.reduced_flow == "yes" or foot.pulse_felt == "no":
        return "yes"
    return "no" if foot.reduced_flow == "no" or foot.pulse_felt == "yes" else "unknown"
