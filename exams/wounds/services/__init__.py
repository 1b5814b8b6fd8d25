"""What changes wounds and their episodes: each a verb, one act, with its line in the trail."""

from exams.wounds.services.assessments import assess_wound, correct_assessment, withdraw_assessment
from exams.wounds.services.outcomes import keep_outcomes, keep_toe_at_start
from exams.wounds.services.photographs import keep_photograph, trace_area, withdraw_photograph
from exams.wounds.services.wounds import (
    close_wound,
    correct_wound,
    judge_beyond_salvage,
    lose_episode,
    record_wound,
    withdraw_wound,
)

__all__ = [
    "assess_wound",
    "close_wound",
    "correct_assessment",
    "correct_wound",
    "judge_beyond_salvage",
    "keep_outcomes",
    "keep_photograph",
    "keep_toe_at_start",
    "lose_episode",
    "record_wound",
    "trace_area",
    "withdraw_assessment",
    "withdraw_photograph",
    "withdraw_wound",
]
