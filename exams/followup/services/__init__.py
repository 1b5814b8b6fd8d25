"""What changes referrals, recalls, promises and targets: each a verb, one act, with its line in the trail."""

from exams.followup.services.life import follow_life
from exams.followup.services.promises import call_off_promise, follow_exam, keep_promise, make_promise
from exams.followup.services.recalls import end_recall, follow_events, mark_seen, plan_recall, record_contact
from exams.followup.services.referrals import on_referral_sent, send_referral, take_step, take_step_back
from exams.followup.services.settings import set_target

__all__ = [
    "call_off_promise",
    "end_recall",
    "follow_events",
    "follow_exam",
    "follow_life",
    "keep_promise",
    "make_promise",
    "mark_seen",
    "on_referral_sent",
    "plan_recall",
    "record_contact",
    "send_referral",
    "set_target",
    "take_step",
    "take_step_back",
]
