"""What the healing outlook answers: frozen outputs, the layers apart and never multiplied in silence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer, Side
from exams.hemodynamics.wounds.graded import AreaCourse, LimbStage


class OutlookWord(StrEnum):
    """The four answers, worst first; none is a prediction for one person."""

    UNLIKELY = "unlikely"
    CANNOT_SAY = "cannot_say"
    UNCERTAIN = "uncertain"
    LIKELY = "likely"

    @property
    def words(self) -> str:
        return OUTLOOK_WORDS[self]


OUTLOOK_WORDS = {
    OutlookWord.UNLIKELY: "unlikely to heal without more blood flow",
    OutlookWord.CANNOT_SAY: "cannot say",
    OutlookWord.UNCERTAIN: "healing uncertain",
    OutlookWord.LIKELY: "likely to heal",
}


class Role(StrEnum):
    """Whom to call: roles, never names."""

    ACUTE_SERVICES = "acute_services"
    VASCULAR_TEAM = "vascular_team"
    FOOT_TEAM = "foot_team"
    LABORATORY = "laboratory"
    WOUND_TEAM = "wound_team"

    @property
    def words(self) -> str:
        return ROLE_WORDS[self]


ROLE_WORDS = {
    Role.ACUTE_SERVICES: "acute services",
    Role.VASCULAR_TEAM: "the vascular team",
    Role.FOOT_TEAM: "the multidisciplinary foot team",
    Role.LABORATORY: "the vascular laboratory",
    Role.WOUND_TEAM: "the wound team",
}


class Urgency(StrEnum):
    """How soon a referral should go, the soonest first."""

    AT_ONCE = "at_once"
    ONE_WORKING_DAY = "one_working_day"
    TWO_TO_FOUR_WEEKS = "two_to_four_weeks"
    SIX_TO_EIGHT_WEEKS = "six_to_eight_weeks"
    NONE = "none"

    @property
    def words(self) -> str:
        return URGENCY_WORDS[self]


URGENCY_WORDS = {
    Urgency.AT_ONCE: "at once",
    Urgency.ONE_WORKING_DAY: "within one working day",
    Urgency.TWO_TO_FOUR_WEEKS: "within 2 to 4 weeks",
    Urgency.SIX_TO_EIGHT_WEEKS: "within 6 to 8 weeks",
    Urgency.NONE: "no referral suggested",
}


@dataclass(frozen=True, slots=True)
class ReferralSuggestion:
    """What the facts suggest; a person edits and sends it. ``reasons`` are sentences, the gravest first."""

    urgency: Urgency
    to: tuple[Role, ...]
    reasons: tuple[str, ...]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class ReadingUsed:
    """A reading the outlook rests on, or leaves out: ``why_not`` is "" where it is used."""

    measure: str
    shown: str
    on: date
    age_days: int
    cold: bool
    why_not: str


@dataclass(frozen=True, slots=True)
class UrgencyRule:
    """One rule of layer (a).

    ``holds`` is "yes", "no" or "unknown"; ``shown`` the number it was held against with its day, or why
    there is none; ``limit`` its words ("toe pressure below 30 mmHg").
    """

    name: str
    limit: str
    holds: Answer
    shown: str
    on: date | None
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """One published statement of layer (b).

    ``applies``: whether this foot meets its condition, as far as known. ``statement`` in words with its
    range; ``points`` the range in percentage points (low, high; None open) where it has one. ``citation``
    in full; ``status`` says honestly how well it was confirmed.
    """

    test: str
    condition: str
    applies: Answer
    shown: str
    statement: str
    points: tuple[int | None, int | None] | None
    citation: str
    status: str


@dataclass(frozen=True, slots=True)
class RatioUsed:
    """One likelihood ratio that the criteria supply, used because its condition holds."""

    condition: str
    ratio: Decimal
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class PostTest:
    """Odds updated in the open: pre-test percent, each ratio, post-test percent (one decimal)."""

    pre_test_percent: Decimal
    ratios: tuple[RatioUsed, ...]
    post_test_percent: Decimal
    working: str


@dataclass(frozen=True, slots=True)
class OutcomeShare:
    """Layer (c): share healed by so many weeks, with its Wilson 95 % interval, in percent, one decimal.

    ``percent`` is NotStated where too few to show; then the counts are hidden too (None).
    """

    weeks: int
    alike: str
    healed: int | None
    of: int | None
    percent: Decimal | NotStated
    low: Decimal | None
    high: Decimal | None
    source: str


class ChangeOf(StrEnum):
    SENTENCE = "sentence"
    STAGE = "stage"
    URGENCY = "urgency"


@dataclass(frozen=True, slots=True)
class WouldChange:
    """One entry of layer (d).

    ``by`` is "reading" (another pressure), "test" (a measurement that is missing) or "warming" (a warm
    repeat of a cold toe); ``measure`` and ``mmhg`` the pressure from which on the answer is another, None
    where there is none; ``change`` what would move, ``now`` and ``then`` its words before and after.
    """

    by: str
    measure: str
    mmhg: int | None
    change: ChangeOf
    now: str
    then: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Compression:
    """One line for one leg; never a bare yes, and the local protocol decides.

    ``caution``: "yes" where a published caution is met, "no" where its pressures are known and none is,
    "unknown" where no pressure can tell.
    """

    side: Side
    caution: Answer
    sentence: str
    reasons: tuple[str, ...]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """The answer for one limb.

    Attributes
    ----------
    sentence : str
        The one sentence on top: the answer, and why; marked where the toe was cold.
    action : str
        What to do now and whom to call, one sentence.
    cautions : tuple of str
        Said beside it, always.
    rules, evidence, post_test, own_outcomes, would_change
        The four layers: (a), (b) with the odds where the criteria supply ratios, (c), (d).
    readings : tuple of ReadingUsed
        What was used, and what was left out and why.
    missing : tuple of str
        What is not known and could change the answer.
    """

    side: Side
    on: date
    word: OutlookWord
    sentence: str
    action: str
    whom: tuple[Role, ...]
    cold: bool
    referral: ReferralSuggestion
    cautions: tuple[str, ...]
    compression: Compression
    stage: LimbStage
    courses: tuple[tuple[str, AreaCourse], ...]
    rules: tuple[UrgencyRule, ...]
    evidence: tuple[Evidence, ...]
    post_test: PostTest | NotStated
    own_outcomes: tuple[OutcomeShare, ...]
    would_change: tuple[WouldChange, ...]
    readings: tuple[ReadingUsed, ...]
    missing: tuple[str, ...]
    rule: str
    source: str
    status: str
    criteria_name: str
    criteria_version: str
    criteria_hash: str
