"""How soon and to whom: what the facts suggest; a person decides, edits and sends.

Source: NG19 (limb-threatening to acute services at once, any other active foot problem within one working
day, foot protection within 2 to 4 or 6 to 8 weeks), GVG19 (revascularisation by stage and ischaemia), and the
urgency rules of the criteria (clinical reference 4.1).
"""

from __future__ import annotations

from exams.hemodynamics.healing.answered import ReferralSuggestion, Role, Urgency
from exams.hemodynamics.healing.judge import Case, Judged
from exams.hemodynamics.words import sentence
from exams.hemodynamics.wounds.assessed import Region
from exams.hemodynamics.wounds.foot_risk import foot_risk
from exams.hemodynamics.wounds.sources import SECONDARY

_Reason = tuple[Urgency, tuple[Role, ...], str]
SOON = {3: Urgency.TWO_TO_FOUR_WEEKS, 2: Urgency.SIX_TO_EIGHT_WEEKS}
ORDER = tuple(Urgency)


def suggest_referral(judged: Judged, case: Case, urgent_words: str) -> ReferralSuggestion:
    """The soonest urgency that any fact asks for, every reason of it first, then the others.

    Parameters
    ----------
    urgent_words : str
        The values that passed an urgency rule, in words; "" where none did.
    """
    reasons = [*_limb_threatening(judged, case, urgent_words), *_active(judged, case, urgent_words)]
    if not reasons:
        reasons = _at_risk(case)
    if not reasons:
        return ReferralSuggestion(Urgency.NONE, (), (), "NG19", SECONDARY)
    ordered = sorted(reasons, key=lambda reason: ORDER.index(reason[0]))
    soonest = ordered[0][0]
    to = tuple(dict.fromkeys(role for when, roles, _ in ordered if when is soonest for role in roles))
    return ReferralSuggestion(
        soonest, to, tuple(sentence(words) for _, _, words in ordered), "NG19", SECONDARY
    )


def infection_with_disease(judged: Judged, case: Case) -> bool:
    """A foot infection with any sign of arterial disease: an emergency (clinical reference 4.1)."""
    taken = [one for one in (judged.flow.toe, judged.flow.ankle) if one is not None]
    flagged = any("INFECTION_WITH_ARTERIAL_DISEASE" in one.row.flags for one in taken)
    known = case.infected == "yes" and (judged.urgent or case.question.foot.arterial_disease == "yes")
    return flagged or known


def _endangered(judged: Judged, case: Case) -> bool:
    """An urgent value with a wound, rest pain or infection; no signal at all is urgent without them."""
    return judged.urgent and (case.at_stake or judged.holds["no_signal"] == "yes")


def _limb_threatening(judged: Judged, case: Case, urgent_words: str) -> list[_Reason]:
    found: list[_Reason] = []

    def at_once(roles: tuple[Role, ...], words: str) -> None:
        found.append((Urgency.AT_ONCE, roles, words))

    if judged.holds["acute"] == "yes":
        at_once(
            (Role.VASCULAR_TEAM, Role.ACUTE_SERVICES),
            "possible acute ischaemia: no signal where flow was found before",
        )
    if any(grade.at_least == 4 for grade in case.iwgdf):
        at_once((Role.ACUTE_SERVICES, Role.FOOT_TEAM), "foot infection with signs of the whole body")
    if _endangered(judged, case):
        # An ulcer or gangrene with ischaemia goes to acute services too (NG19, workflow 2.1).
        tissue_lost = case.context.limb(case.question.side).tissue_lost
        to = (Role.VASCULAR_TEAM, Role.ACUTE_SERVICES) if tissue_lost else (Role.VASCULAR_TEAM,)
        at_once(to, f"a limb in danger from lack of blood flow: {urgent_words}")
    if infection_with_disease(judged, case):
        at_once((Role.VASCULAR_TEAM, Role.FOOT_TEAM), "foot infection with arterial disease")
    signs = [one.wound.infection for one in case.question.wounds]
    if any("yes" in (one.deeper, one.osteomyelitis) for one in signs):
        at_once((Role.FOOT_TEAM, Role.ACUTE_SERVICES), "deep or bone infection")
    if case.context.limb(case.question.side).gangrene:
        at_once((Role.ACUTE_SERVICES, Role.VASCULAR_TEAM, Role.FOOT_TEAM), "gangrene")
    return found


def _active(judged: Judged, case: Case, urgent_words: str) -> list[_Reason]:
    found: list[_Reason] = []

    def in_a_day(role: Role, words: str) -> None:
        found.append((Urgency.ONE_WORKING_DAY, (role,), words))

    if judged.urgent and not _endangered(judged, case):
        in_a_day(Role.VASCULAR_TEAM, f"severe lack of blood flow without a wound: {urgent_words}")
    flags = {flag for _, course in case.courses for flag in course.flags}
    if flags:
        why = "does not shrink as it should" if "SLOW_HEALING" in flags else "is open after 6 weeks of care"
        in_a_day(Role.VASCULAR_TEAM, f"a wound {why}: vascular imaging whatever the bedside tests show")
    stage, ischaemia = judged.stage.computed, judged.stage.ischaemia.grade.number
    tissue_lost = case.context.limb(case.question.side).tissue_lost
    if tissue_lost and isinstance(stage, int) and ischaemia is not None:
        if stage == 4 and ischaemia >= 2:
            in_a_day(Role.VASCULAR_TEAM, "WIfI stage 4 with ischaemia 2 or 3: revascularisation is offered")
        elif stage in (2, 3) and ischaemia >= 2:
            words = f"WIfI stage {stage} with ischaemia {ischaemia}: revascularisation is considered"
            in_a_day(Role.VASCULAR_TEAM, words)
    # One that nobody described yet may be of the foot as well as of the leg.
    unseen = tissue_lost and (case.question.not_assessed or not case.question.wounds)
    if unseen or any(one.wound.region is not Region.LEG for one in case.question.wounds):
        in_a_day(
            Role.FOOT_TEAM, "an open foot wound is an active foot problem, unless already under that team"
        )
    return found


def _at_risk(case: Case) -> list[_Reason]:
    """A foot without a wound goes to the foot protection service by its risk category, if that is known."""
    category = foot_risk(case.question.foot)
    if category.number not in SOON:
        return []
    words = f"foot-risk category {category.number} ({category.words})"
    return [(SOON[category.number], (Role.FOOT_TEAM,), words)]
