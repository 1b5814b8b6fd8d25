"""outlook(): can this foot heal as it is, who has to be called, and how sure is that.

The one sentence follows the rule table of the criteria (clinical reference 4.2); the layers behind it stand
apart: urgency rules, published evidence, the clinic's own outcomes, what would change the answer.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.healing.answered import (
    ChangeOf,
    Compression,
    Outlook,
    OutlookWord,
    ReferralSuggestion,
    Role,
    Urgency,
    WouldChange,
)
from exams.hemodynamics.healing.asked import OutlookQuestion
from exams.hemodynamics.healing.compression import compression_line
from exams.hemodynamics.healing.evidence import (
    ankle_value,
    index_value,
    published_evidence,
    toe_value,
)
from exams.hemodynamics.healing.flow import flow_of
from exams.hemodynamics.healing.judge import Case, Judged, judge
from exams.hemodynamics.healing.own_outcomes import own_outcomes, post_test
from exams.hemodynamics.healing.referral import infection_with_disease, suggest_referral
from exams.hemodynamics.healing.rules import urgency_rules, urgent_words
from exams.hemodynamics.healing.what_if import would_change
from exams.hemodynamics.measured import Answer, Context, Side
from exams.hemodynamics.words import joined, listed, sentence
from exams.hemodynamics.wounds.area import area_course
from exams.hemodynamics.wounds.assessed import InfectionSigns
from exams.hemodynamics.wounds.graded import AreaCourse, Grade, LimbStage
from exams.hemodynamics.wounds.infection import (
    infection_on_record_grade,
    iwgdf_infection,
    no_infection_grade,
    wifi_infection,
)
from exams.hemodynamics.wounds.possible import any_of
from exams.hemodynamics.wounds.sources import OURS
from exams.hemodynamics.wounds.stage import worst
from exams.hemodynamics.wounds.wound_grade import not_assessed_grade, wound_grade

CAUTIONS = (
    "Decision support, not a prediction for one person: look at the foot.",
    "As far as blood flow goes: infection, pressure on the wound, nutrition and the rest are not in it.",
)
NO_WOUND = "No open wound is recorded here: the sentence is for a wound if there were one."
NOT_ASSESSED = "A wound on record is not assessed: write how it is found, then read this again."
UNSALVAGEABLE = "A clinician has called this foot unsalvageable (stage 5); that is not computed."


def outlook(question: OutlookQuestion, criteria: Criteria) -> Outlook:
    """The healing outlook of one limb on one day.

    Raises
    ------
    InputError
        ``criteria.no_outlook`` where the criteria are from before there was one.

    Notes
    -----
    Source: clinical reference 3, 4.1, 4.2 and 10 under the criteria. The same question always gives the same
    answer; nothing here knows a clock.
    """
    case = case_of(question, criteria)
    flow, readings = flow_of(question, criteria, case.rules, case.context)
    judged = judge(flow, case)
    rules = urgency_rules(judged, case)
    told = urgent_words(rules)
    referral = suggest_referral(judged, case, told)
    changes = would_change(judged, case, lambda one: suggest_referral(one, case, "").urgency.words)
    index = index_value(flow)
    action, whom = _action(judged, case, referral, changes)
    return Outlook(
        side=question.side,
        on=question.today,
        word=judged.word,
        sentence=_sentence(judged, case, told),
        action=action,
        whom=whom,
        cold=_is_cold(judged),
        referral=referral,
        cautions=_cautions(judged, case),
        compression=compression_line(flow, case),
        stage=judged.stage,
        courses=case.courses,
        rules=rules,
        evidence=published_evidence(judged, case),
        post_test=post_test(
            question.pre_test_percent,
            {
                "toe_mmhg": toe_value(flow),
                "oxygen_mmhg": flow.oxygen_mmhg,
                "ankle_mmhg": ankle_value(flow),
                "abi_hundredths": None if index is None else index * 100,
            },
            case.rules,
        ),
        own_outcomes=own_outcomes(question.outcomes, case.rules),
        would_change=changes,
        readings=readings,
        missing=_missing(judged, rules_unknown=[one.limit for one in rules if one.holds == "unknown"]),
        rule="the first row of the outlook table that holds",
        source="OURS",
        status=OURS,
        criteria_name=criteria.name,
        criteria_version=criteria.version,
        criteria_hash=criteria.content_hash,
    )


def threatened_limb(question: OutlookQuestion, criteria: Criteria) -> LimbStage:
    """Only the WIfI grades and stage of a limb; the same as in its outlook."""
    case = case_of(question, criteria)
    flow, _ = flow_of(question, criteria, case.rules, case.context)
    return judge(flow, case).stage


def compression(question: OutlookQuestion, criteria: Criteria) -> Compression:
    """Only the compression line of a leg; the same as in its outlook."""
    case = case_of(question, criteria)
    flow, _ = flow_of(question, criteria, case.rules, case.context)
    return compression_line(flow, case)


def case_of(question: OutlookQuestion, criteria: Criteria) -> Case:
    """What is the same for every "what if".

    Raises InputError ``criteria.no_outlook``.
    """
    rules = criteria.outlook
    if rules is None:
        raise InputError("criteria.no_outlook", "criteria", criteria.label)
    wounds = [course.wound for course in question.wounds]
    iwgdf = tuple(iwgdf_infection(wound.infection, rules.infection.rule) for wound in wounds)
    facts = question.context.limb(question.side)
    infected = any_of(
        *(_infected(one.at_least, one.at_most) for one in iwgdf),
        "yes" if facts.foot_infection else "unknown" if _unseen(question) else "no",
    )
    courses = tuple(
        (one.key, area_course(one.areas, one.in_care_since, question.today, rules)) for one in question.wounds
    )
    return Case(
        question=question,
        criteria=criteria,
        rules=rules,
        context=_context(question, infected),
        wound=worst(
            [*(wound_grade(wound) for wound in wounds), *_on_record(question)] or [wound_grade(None)]
        ),
        infection=_infection(question),
        iwgdf=iwgdf,
        courses=courses,
        infected=infected,
        shrinking=_shrinking(courses),
    )


def _unseen(question: OutlookQuestion) -> bool:
    """Whether an open wound of the limb is on record of which nobody wrote how it was found."""
    facts = question.context.limb(question.side)
    return bool(question.not_assessed) or (facts.open_wound and not question.wounds)


def _on_record(question: OutlookQuestion) -> list[Grade]:
    """What is on record of this limb and was not assessed: it is never read as no wound."""
    facts = question.context.limb(question.side)
    found = [not_assessed_grade(gangrene=False)] if _unseen(question) else []
    if facts.gangrene and not any(one.wound.has_gangrene for one in question.wounds):
        found.append(not_assessed_grade(gangrene=True))
    return found


def _infection(question: OutlookQuestion) -> Grade:
    graded = [wifi_infection(one.wound.infection) for one in question.wounds]
    if question.context.limb(question.side).foot_infection and not any(one.at_least for one in graded):
        graded.append(infection_on_record_grade())
    elif _unseen(question):
        graded.append(wifi_infection(InfectionSigns()))
    return worst(graded or [no_infection_grade()])


def _infected(at_least: int, at_most: int) -> Answer:
    if at_least > 1:
        return "yes"
    return "no" if at_most == 1 else "unknown"


def _context(question: OutlookQuestion, infected: Answer) -> Context:
    """The facts given, and besides what the wounds show."""
    facts = question.context.limb(question.side)
    shown = replace(
        facts,
        open_wound=facts.open_wound or bool(question.wounds or question.not_assessed),
        gangrene=facts.gangrene or any(one.wound.has_gangrene for one in question.wounds),
        foot_infection=facts.foot_infection or infected == "yes",
    )
    if question.side is Side.RIGHT:
        return replace(question.context, right=shown)
    return replace(question.context, left=shown)


def _shrinking(courses: tuple[tuple[str, AreaCourse], ...]) -> Answer:
    """Whether every wound has shrunk as it should; one that has not is enough to deny it."""
    answers = [course.shrinking for _, course in courses]
    if "no" in answers:
        return "no"
    return "yes" if answers and all(one == "yes" for one in answers) else "unknown"


def _is_cold(judged: Judged) -> bool:
    """Whether the sentence rests on a cold toe."""
    toe = judged.flow.toe
    if toe is None or not toe.cold:
        return False
    by_toe = judged.holds["toe"] == "yes" or toe.row.urgent_by["no_toe_signal"]
    return by_toe or (toe.fresh and judged.word in (OutlookWord.UNCERTAIN, OutlookWord.LIKELY))


def _sentence(judged: Judged, case: Case, urgent: str) -> str:
    word = judged.word
    opening = f"{case.question.side.word}, as far as blood flow goes: {word.words}"
    cold = " (the toe was cold)" if _is_cold(judged) else ""
    if word is OutlookWord.UNLIKELY:
        return sentence(f"{opening}: {urgent}{cold}")
    if word is OutlookWord.CANNOT_SAY:
        return sentence(f"{opening} because {_why_not(judged, case)}")
    slow = ""
    if word is OutlookWord.UNCERTAIN and case.shrinking == "no":
        slow = "; the wound does not shrink as it should"
    return sentence(f"{opening}: {_basis(judged)}{cold}{slow}")


def _why_not(judged: Judged, case: Case) -> str:
    toe, oxygen = judged.flow.toe, judged.flow.oxygen
    days = case.rules.limits["reading_age_days"].limit
    if toe is not None and toe.fresh:
        return f"the toe {toe.row.toe_words} and there is no oxygen pressure"
    old = [one for one in (toe, oxygen) if one is not None]
    if old:
        last = max(old, key=lambda one: one.on)
        return f"the last toe or oxygen pressure, of {_day(last.on)}, is older than {days} days"
    procedure = case.question.last_procedure
    if procedure is not None:
        return f"there is no toe or oxygen pressure from after the last procedure ({procedure.on.words})"
    return "there is no toe pressure and no oxygen pressure"


def _basis(judged: Judged) -> str:
    flow, parts = judged.flow, []
    toe = toe_value(flow)
    if flow.toe is not None and flow.toe.fresh and toe is not None:
        parts.append(f"toe pressure {toe} mmHg on {_day(flow.toe.on)}")
    if flow.oxygen is not None and flow.oxygen.fresh:
        parts.append(f"oxygen {flow.oxygen_mmhg} mmHg on {_day(flow.oxygen.on)}")
    return listed(parts)


def _action(
    judged: Judged, case: Case, referral: ReferralSuggestion, changes: tuple[WouldChange, ...]
) -> tuple[str, tuple[Role, ...]]:
    """What to do now and whom to call, by the row of the table; what cannot wait comes first."""
    parts, whom = [], list(referral.to) if referral.urgency is Urgency.AT_ONCE else []
    if referral.urgency is Urgency.AT_ONCE:
        parts.append(f"Call {listed([role.words for role in referral.to])} at once")
    slow = {flag for _, course in case.courses for flag in course.flags}
    imaging = "ask the vascular team for imaging within one working day: the wound is slow or long open"
    if judged.word is OutlookWord.UNLIKELY:
        if referral.urgency is not Urgency.AT_ONCE:
            parts.append("Ask the vascular team for an opinion within one working day")
        whom.append(Role.VASCULAR_TEAM)
    elif judged.word is OutlookWord.CANNOT_SAY:
        parts.append(
            "Measure the toe pressure today, or transcutaneous oxygen where no toe can be measured: call the "
            "vascular laboratory"
        )
        whom.append(Role.LABORATORY)
        parts += [imaging] if slow else []
    elif judged.word is OutlookWord.UNCERTAIN:
        parts.append(
            "Repeat the pressure and follow the area at 4 weeks"
            + ("" if slow else "; refer to the vascular team if the wound is slow")
        )
        parts += [imaging] if slow else []
        whom.append(Role.VASCULAR_TEAM)
    else:
        parts.append("Continue the care of the wound and recall; call the foot team if it gets worse")
        parts += [imaging] if slow else []
        whom.append(Role.FOOT_TEAM)
    if slow:
        whom.append(Role.VASCULAR_TEAM)
    if any(one.by == "warming" and one.change is ChangeOf.SENTENCE for one in changes):
        waits = "; do not wait for it" if judged.word is OutlookWord.UNLIKELY else ""
        parts.append(
            f"Warm the room and the foot with blankets, never with direct heat, and repeat the toe{waits}"
        )
    return joined(parts), tuple(dict.fromkeys(whom))


def _cautions(judged: Judged, case: Case) -> tuple[str, ...]:
    found = list(CAUTIONS)
    if not case.context.limb(case.question.side).tissue_lost:
        found.append(NO_WOUND)
    elif _unseen(case.question) or not case.question.wounds:
        found.append(NOT_ASSESSED)
    if case.question.stage_by_clinician is not None:
        found.append(UNSALVAGEABLE)
    if infection_with_disease(judged, case):
        found.append("Foot infection with arterial disease is an emergency whatever the sentence says.")
    flow = judged.flow
    if judged.holds["toe"] == "yes" and toe_value(flow) is not None and flow.toe and not flow.toe.fresh:
        found.append(f"The toe pressure that decides is of {_day(flow.toe.on)}: measure again.")
    if flow.oxygen is not None and any("FALSELY_LOW" in one.flags for one in flow.oxygen.findings):
        found.append("Swelling or cellulitis at the probe may make the oxygen read falsely low.")
    taken = [one for one in (flow.toe, flow.ankle) if one is not None]
    if any(one.exam.measured.conditions.position not in (None, "supine") for one in taken):
        found.append("A reading was not taken lying flat: provisional.")
    if judged.stage.ischaemia.disagreement:
        found.append(judged.stage.ischaemia.disagreement)
    return tuple(found)


def _missing(judged: Judged, rules_unknown: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys([*judged.stage.missing, *rules_unknown]))


def _day(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"
