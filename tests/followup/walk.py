"""Example objects of this room for the walk through every page."""

from tests.followup.make import promise, recall, referral
from tests.patients.make import register


def examples(cast):
    patient = register(cast.measurer, "Followley", "Fay", duplicate_reason="not seen")
    sent = {"referral_id": referral(cast.wound_nurse, patient).pk}
    due = {"recall_id": recall(cast.measurer, patient).pk}
    # A person who is not recalled yet: the form to plan that stands on that page, and those of a promise.
    other = register(cast.measurer, "Planley", "Pia", duplicate_reason="not seen")
    unplanned, said = {"patient_id": other.pk}, {"promise_id": promise(cast.measurer, other).pk}
    return {
        "followup:referral": sent,
        "followup_api:referral": sent,
        "followup_api:step": sent,
        "followup_api:answer": sent,
        "followup_api:patient_referrals": unplanned,
        "followup_api:recall": due,
        "followup_api:recall_contact": due,
        "followup_api:recall_seen": due,
        "followup_api:recall_end": due,
        "followup_api:patient_recalls": unplanned,
        "followup_api:promise": said,
        "followup_api:promise_keeping": said,
        "followup_api:promise_calling_off": said,
        "followup_api:patient_promises": unplanned,
        "followup:refer_step": sent,
        "followup:answer": sent,
        "followup:recall": due,
        "followup:contact": due,
        "followup:seen": due,
        "followup:end_recall": due,
        "followup:keep_promise": said,
        "followup:call_off_promise": said,
        "followup:patient": unplanned,
        "followup:refer": unplanned,
        "followup:plan_recall": unplanned,
        "followup:promise": unplanned,
    }
