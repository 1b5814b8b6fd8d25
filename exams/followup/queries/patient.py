"""All that waits for one person, and what a new referral or promise starts from.

A fixed number of queries.
"""

from dataclasses import dataclass, replace
from datetime import date

from access.people import Person
from access.permissions import NotHere
from exams.followup.course import UNANSWERED, WAITS_FOR_REFERRING, PromiseKind, Urgency
from exams.followup.queries.promises import PromiseLine, promises_of
from exams.followup.queries.recalls import RecallLine, recalls_of
from exams.followup.queries.referrals import ReferralLine, referrals_of
from exams.hemodynamics import Finding, Grade, Interpretation, Side, limb_sentence
from exams.patients.models import Patient
from exams.patients.queries import limb_fact_history, patient_for, today_in
from exams.visits.models import Exam, ExamState
from exams.visits.plan import DONE_STATES
from exams.visits.queries.chart import moment_of
from exams.visits.queries.exams import exam_for
from exams.visits.queries.results import stored_interpretation
from exams.wounds.queries import foot_risks, outlook_for

TO_THE_SURGEON = "Vascular surgery"
# How soon each urgency of a limb asks for a referral (clinical.md 4.1; workflow.md 2.1).
_HOW_SOON = {
    "POSSIBLE_ACUTE_ISCHAEMIA": Urgency.AT_ONCE,
    "INFECTION_WITH_ARTERIAL_DISEASE": Urgency.AT_ONCE,
    "URGENT_VASCULAR": Urgency.AT_ONCE,
    "SEVERE_ISCHAEMIA": Urgency.ONE_WORKING_DAY,
}


@dataclass(frozen=True)
class FollowUpPage:
    """``stopped`` is the day of a recorded death: everything below it stands still."""

    patient: Patient
    stopped: date | None
    referrals: tuple[ReferralLine, ...]
    recalls: tuple[RecallLine, ...]
    promises: tuple[PromiseLine, ...]
    bookings: tuple[Exam, ...]

    @property
    def open_referrals(self) -> tuple[ReferralLine, ...]:
        return tuple(one for one in self.referrals if not one.is_closed)

    @property
    def closed_referrals(self) -> tuple[ReferralLine, ...]:
        return tuple(one for one in self.referrals if one.is_closed)

    @property
    def standing_recalls(self) -> tuple[RecallLine, ...]:
        return tuple(one for one in self.recalls if one.recall.ended_at is None)

    @property
    def ended_recalls(self) -> tuple[RecallLine, ...]:
        return tuple(one for one in self.recalls if one.recall.ended_at is not None)

    @property
    def standing_promises(self) -> tuple[PromiseLine, ...]:
        return tuple(one for one in self.promises if one.stands)

    @property
    def past_promises(self) -> tuple[PromiseLine, ...]:
        return tuple(one for one in self.promises if not one.stands)

    @property
    def recalled_by_category(self) -> bool:
        return any(one.by_category for one in self.standing_recalls)

    @property
    def sentence(self) -> str:
        """What to do first, for a person."""
        if self.stopped is not None:
            return "Death is recorded: referrals, recalls, promises and bookings stand still."
        for line in self.open_referrals:
            if line.late:
                return f"A referral has waited too long. {line.next_step}"
        for line in self.open_referrals:
            if line.urgency == Urgency.AT_ONCE and line.state in (*UNANSWERED, *WAITS_FOR_REFERRING):
                return f"Referred at once, {line.state_words}. {line.next_step}"
        broken = sum(one.broken_days > 0 for one in self.standing_promises)
        if broken:
            many = f"{broken} promises are broken" if broken > 1 else "A promise is broken"
            return f"{many}: keep it now, or call it off with a reason."
        overdue = [one for one in self.standing_recalls if one.overdue_days]
        if overdue:
            return f"Overdue for recall. {overdue[0].next_step}"
        due = [one for one in self.standing_recalls if one.is_due]
        if due:
            return f"Due for recall. {due[0].next_step}"
        if self.open_referrals:
            return f"A referral is open. {self.open_referrals[0].next_step}"
        if self.standing_recalls or self.standing_promises:
            return "Nothing is due today."
        return "Nothing is planned for this person. If the feet are to be seen again, set a recall below."


@dataclass(frozen=True)
class ReferralProposal:
    """What a new referral starts from. ``urgency`` is empty where nothing in the record says how soon."""

    patient: Patient
    exam: Exam | None
    side: str
    urgency: str
    reasons: str
    source: str
    sent_to: str = TO_THE_SURGEON


@dataclass(frozen=True)
class RiskProposal:
    """``category`` is the highest that is possible of either foot: what is not known is not absent."""

    category: int
    feet: tuple[tuple[str, Grade], ...]

    @property
    def words(self) -> str:
        """ "RIGHT 3, high risk; LEFT 1, low risk"."""
        return "; ".join(f"{word} {grade.shown}, {grade.words}" for word, grade in self.feet)

    @property
    def missing(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(words for _, grade in self.feet for words in grade.missing))


@dataclass(frozen=True)
class PromiseProposal:
    """What a new promise starts from; ``asked`` where somebody came from a page that offers one."""

    exam: Exam | None
    kind: str = ""
    side: str = ""
    words: str = ""
    due: str = ""

    @property
    def asked(self) -> bool:
        return self.exam is not None or bool(self.kind)


# What the outlook of a foot offers to promise. Four weeks is when an area is compared (GVG19, clinical
# reference 4.6); nobody publishes when to repeat a cold toe, so that day is the person's to say.
OFFERED = {
    "warm": PromiseProposal(None, PromiseKind.WARM, words="Repeat the toe pressure with warm feet."),
    "area": PromiseProposal(
        None, PromiseKind.SEE, words="See the wound again and measure its area.", due="in 4 weeks"
    ),
    "see": PromiseProposal(None, PromiseKind.SEE, words="See the feet again.", due="in 3 months"),
}


def follow_up_page(person: Person, patient_id: int) -> FollowUpPage:
    """Referrals, recalls, promises and bookings of one person."""
    patient = patient_for(person, patient_id)
    bookings = Exam.objects.filter(patient=patient, state=ExamState.BOOKED).order_by("booked_for", "pk")
    return FollowUpPage(
        patient=patient,
        stopped=patient.died_on,
        referrals=referrals_of(person, patient),
        recalls=recalls_of(person, patient),
        promises=promises_of(person, patient),
        bookings=tuple(bookings),
    )


def referral_proposal(
    person: Person, patient_id: int, exam_id: int | None = None, side: str = ""
) -> ReferralProposal:
    """Urgency and reasons as the record gives them.

    From the healing outlook of a foot where ``side`` is given; otherwise from one exam, or the newest.

    Raises
    ------
    NotHere
        For another clinic's patient, or an exam that is not this person's.
    """
    patient = patient_for(person, patient_id)
    exam = _exam_of(person, patient, exam_id) or _newest_measured(patient)
    if side:
        return _from_outlook(person, patient, side, exam)
    found = stored_interpretation(exam) if exam else None
    urgent = found.urgent if found else ()
    sides = list(dict.fromkeys(finding.limb for finding in urgent if finding.limb))
    return ReferralProposal(
        patient=patient,
        exam=exam,
        side=sides[0].value if len(sides) == 1 else "",
        urgency=_soonest(urgent),
        reasons="\n".join([*(one.sentence for one in urgent), *_on_record(patient, exam, found)]),
        source="; ".join(dict.fromkeys(f"{one.rule} ({one.source})" for one in urgent)),
    )


def _from_outlook(person: Person, patient: Patient, side: str, exam: Exam | None) -> ReferralProposal:
    answer = outlook_for(person, patient, side).answer
    suggested = answer.referral
    found = stored_interpretation(exam) if exam else None
    to = " and ".join(role.words.removeprefix("the ") for role in suggested.to)
    return ReferralProposal(
        patient=patient,
        exam=exam,
        side=side,
        urgency=suggested.urgency if suggested.urgency in Urgency.values else "",
        reasons="\n".join([*suggested.reasons, answer.sentence, *_on_record(patient, exam, found)]),
        source=f"the healing outlook: {suggested.source}, {answer.rule} ({answer.source})",
        sent_to=f"{to[:1].upper()}{to[1:]}" or TO_THE_SURGEON,
    )


def risk_proposal(patient: Patient) -> RiskProposal:
    """The foot-risk category of the worse foot, as the record has it; a fixed number of queries."""
    found = foot_risks(patient)
    return RiskProposal(
        category=max(grade.at_most if grade.number is None else grade.number for grade in found.values()),
        feet=tuple((side.word, found[side.value]) for side in Side),
    )


def promise_proposal(
    person: Person, patient: Patient, exam_id: int | None, offer: str = "", side: str = ""
) -> PromiseProposal:
    """What the outlook of a foot offers to promise, or what an exam asks for.

    An exam asks for a repeat with warm feet where a toe was cold and that matters.
    """
    if offer in OFFERED and side in [one.value for one in Side]:
        return replace(OFFERED[offer], side=side)
    exam = _exam_of(person, patient, exam_id)
    if exam is None:
        return PromiseProposal(None)
    found = stored_interpretation(exam)
    cold = [side for side in Side if _asks_for_warmth(found.of("toe_skin_temperature", side))]
    if not cold:
        return PromiseProposal(exam)
    side = cold[0].value if len(cold) == 1 else ""
    return PromiseProposal(exam, PromiseKind.WARM, side, "Repeat the toe pressure with warm feet.")


def _asks_for_warmth(finding: Finding | None) -> bool:
    return finding is not None and "WARM_AND_REPEAT" in finding.flags


def _exam_of(person: Person, patient: Patient, exam_id: int | None) -> Exam | None:
    if exam_id is None:
        return None
    exam = exam_for(person, exam_id)
    if exam.patient_id != patient.pk or exam.state == ExamState.IN_ERROR:
        raise NotHere("no such exam of this patient")
    return exam


def _newest_measured(patient: Patient) -> Exam | None:
    measured = Exam.objects.filter(patient=patient, state__in=DONE_STATES).select_related("clinic", "patient")
    return measured.order_by("-measured_at", "-pk").first()


def _soonest(urgent: tuple[Finding, ...]) -> str:
    order = list(Urgency)
    asked = [_HOW_SOON[flag] for finding in urgent for flag in finding.flags if flag in _HOW_SOON]
    return min(asked, key=order.index) if asked else ""


def _on_record(patient: Patient, exam: Exam | None, found: Interpretation | None) -> list[str]:
    """What stands on record of both limbs, what was measured and when, as sentences."""
    today, said = today_in(patient.clinic), []
    for side, history in limb_fact_history(patient).items():
        rows = [fact for fact in history if fact.stands and fact.holds_on(today)]
        if rows:
            said.append(f"{side.label}: {'; '.join(f'{fact.words} {fact.when}' for fact in rows)}.")
    if found is not None and exam is not None and found.findings:
        on = moment_of(exam).astimezone(patient.clinic.zone).date()
        said.append(f"Measured {on.day} {on:%b %Y}:")
        said += [limb_sentence(found, side) for side in Side]
    risks = [("diabetes", patient.diabetes), ("kidney disease", patient.kidney_disease)]
    said.append("; ".join(f"{words.capitalize()}: {answer}" for words, answer in risks) + ".")
    return said
